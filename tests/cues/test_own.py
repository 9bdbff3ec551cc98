"""The plan's own cues go out where they stand in the section as it is played, with what they send."""

from __future__ import annotations

import pytest

from bridge.cues import DueCue, release_cues, section_cues
from bridge.exact import Length
from bridge.hostmap import Message
from tests.cues.songs import RELAY, unrolled


def own(cues: tuple[DueCue, ...]) -> list[tuple[str, str, str, int]]:
    return [(str(c.into), str(c.target), c.text, c.bars_until) for c in cues if c.key.startswith("own")]


def crossing(*cues: str, landfall: str = "") -> tuple[str, ...]:
    return (
        RELAY[0],
        f"{RELAY[1]}, cues: [{', '.join(cues)}]",
        RELAY[2] + (f", cues: [{landfall}]" if landfall else ""),
    )


def test_places_told_from_start_bar_and_meeting_are_as_planned() -> None:
    song = unrolled(
        *crossing(
            "{at: start, say: now}",
            "{at: bar 5.3, say: lights}",
            "{at: meeting 1 - 2 bars, say: ready}",
            "{at: start + 3/8, say: pick}",
        )
    )
    for leaves in (Length(24), Length(36), None):
        assert own(section_cues(song, 1, leaves=leaves, follows=2)) == [
            ("0", "0", "now", 0),
            ("3/8", "3/8", "pick", 0),
            ("9/2", "9/2", "lights", 0),
            ("10", "12", "ready", 2),
        ]


def test_places_told_from_the_end_move_with_it_and_wait_while_it_is_open() -> None:
    song = unrolled(
        *crossing("{at: end - 8 bars, say: eight}", "{at: end - 3/16, say: breath}", "{at: end, say: cut}")
    )
    assert own(section_cues(song, 1, leaves=Length(36), follows=2)) == [
        ("28", "36", "eight", 8),
        ("573/16", "36", "breath", 1),
        ("36", "36", "cut", 0),
    ]
    assert own(section_cues(song, 1, leaves=None, follows=2)) == []


def test_what_stands_before_a_sections_start_is_told_of_in_the_section_before() -> None:
    song = unrolled(*crossing("{at: bar 2, say: x}", landfall="{at: start - 2 bars, for: keys, say: bells}"))
    before = section_cues(song, 1, leaves=Length(36), follows=2)
    assert own(before)[1:] == [("34", "36", "bells", 2)]
    assert [cue.player for cue in before if cue.text == "bells"] == ["keys"]
    assert own(section_cues(song, 2, leaves=Length(12), follows=None)) == []


def test_what_stands_at_a_sections_start_is_told_of_there_alone() -> None:
    song = unrolled(*crossing("{at: bar 2, say: x}", landfall="{at: start, say: go}"))
    assert own(section_cues(song, 1, leaves=Length(24), follows=2)) == [("1", "1", "x", 0)]
    assert own(section_cues(song, 2, leaves=Length(12), follows=None)) == [("0", "0", "go", 0)]


def test_another_follower_brings_its_own_cues_in_its_own_lengths() -> None:
    song = unrolled(
        "name: Prelude, layers: [bells], bars: 8, meter: 7/8",
        RELAY[1],
        f"{RELAY[2]}, cues: [{{at: start - 2 bars, say: two}}, {{at: start - 3/16, say: breath}}]",
    )
    cues = section_cues(song, 0, leaves=Length(7), follows=2)
    assert own(cues) == [("21/4", "7", "two", 2), ("109/16", "7", "breath", 1)]


def test_where_a_section_is_left_too_early_what_comes_before_its_end_stands_at_its_start() -> None:
    song = unrolled(*crossing("{at: end - 8 bars, send: {program: 12, channel: 3}}"))
    assert own(section_cues(song, 1, leaves=Length(4), follows=2)) == [("0", "4", "", 4)]


def test_programs_controllers_and_osc_go_out_as_the_wire_has_them() -> None:
    song = unrolled(
        *crossing(
            "{at: start, send: [{program: 12, channel: 3}, {controller: 64, value: 127, channel: 16},"
            " {osc: [/rig/scene, 4, 0.5, dawn]}]}"
        )
    )
    (cue,) = [cue for cue in section_cues(song, 1, leaves=Length(24), follows=2) if cue.key.startswith("own")]
    assert cue.midi == (bytes.fromhex("C2 0B"), bytes.fromhex("BF 40 7F"))
    assert cue.osc == (Message("/rig/scene", "ifs", (4, 0.5, "dawn")),)
    assert isinstance(cue.osc[0].args[1], float)


def test_a_recording_alone_is_nothing_for_the_wire() -> None:
    song = unrolled(*crossing("{at: start, sound: voice.wav}"))
    assert own(section_cues(song, 1, leaves=Length(24), follows=2)) == []


def test_after_a_free_passage_they_stand_in_the_count_in() -> None:
    song = unrolled(
        "name: Drift, layers: [fives], free: {about: '0:45'}",
        "name: Landfall, layers: [band, fives], bars: 12, count_in: 2,"
        " cues: [{at: start - 1 bar, say: in one}, {at: start - 1 beats, say: breath}]",
    )
    assert own(section_cues(song, 0, leaves=song.sections[0].length, follows=1)) == []
    assert own(section_cues(song, 1, leaves=Length(12), follows=None)) == [
        ("-1", "0", "in one", 1),
        ("-1/4", "0", "breath", 1),
    ]


def test_a_release_that_comes_after_its_moment_still_sends_what_the_plan_wants_sent() -> None:
    song = unrolled(
        *crossing(
            "{at: end - 8 bars, say: eight, send: {program: 12, channel: 3}}", "{at: end - 6 bars, say: six}"
        )
    )
    cues = release_cues(song, 1, now=Length(30), leaves=Length(36), follows=2)
    sent = [cue for cue in cues if cue.midi]
    assert [(str(cue.into), cue.text, cue.midi) for cue in sent] == [("30", "", (b"\xc2\x0b",))]
    assert sent[0].key in {cue.key for cue in section_cues(song, 1, leaves=Length(36), follows=2)}
    assert "six" not in {cue.text for cue in cues}


@pytest.mark.parametrize("leaves", [Length(24), Length(36)])
def test_no_two_keys_of_equal_cues_are_equal(leaves: Length) -> None:
    song = unrolled(*crossing("{at: end - 1 bar, say: go}", "{at: end - 1 bar, say: go}"))
    keys = [cue.key for cue in section_cues(song, 1, leaves=leaves, follows=2)]
    assert len(set(keys)) == len(keys)
