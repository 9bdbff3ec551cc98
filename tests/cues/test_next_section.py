"""The next section is announced in time, and what is said is true where it is said."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bridge.cues import Axis, DueCue, Leads, section_cues
from bridge.exact import Length
from tests.cues.songs import RELAY, said, unrolled


def announced(cues: tuple[DueCue, ...], name: str) -> list[tuple[str, str]]:
    return [one for one in said(cues) if one[1].startswith(f"{name} in ")]


def test_the_next_section_comes_in_eight_four_two_and_one_bars() -> None:
    cues = section_cues(unrolled(*RELAY), 1, leaves=Length(24), follows=2)
    assert announced(cues, "Landfall") == [
        ("16", "Landfall in 8 bars"),
        ("20", "Landfall in 4 bars"),
        ("22", "Landfall in 2 bars"),
        ("23", "Landfall in 1 bar"),
    ]


def test_the_last_section_ends_in_the_end() -> None:
    cues = section_cues(unrolled(*RELAY), 2, leaves=Length(12), follows=None)
    assert announced(cues, "End")[0] == ("4", "End in 8 bars")


def test_at_180_the_last_call_is_moved_to_the_beat_two_seconds_ahead() -> None:
    cues = section_cues(unrolled(*RELAY, tempo="180"), 1, leaves=Length(24), follows=2)
    assert announced(cues, "Landfall")[-2:] == [("22", "Landfall in 2 bars"), ("45/2", "Landfall in 6 beats")]


def test_at_1000_all_calls_that_fall_together_are_one() -> None:
    song = unrolled(*RELAY, tempo="1000")
    cues = section_cues(song, 1, leaves=Length(24), follows=2)
    assert announced(cues, "Landfall") == [("31/2", "Landfall in 34 beats")]


def test_nothing_is_announced_while_it_is_open_when_the_section_ends() -> None:
    cues = section_cues(unrolled(*RELAY), 1, leaves=None, follows=2)
    assert announced(cues, "Landfall") == []


def test_a_short_section_is_announced_from_where_there_is_room() -> None:
    song = unrolled("name: Prelude, layers: [bells], bars: 3", *RELAY[1:])
    cues = section_cues(song, 0, leaves=Length(3), follows=1)
    assert announced(cues, "Crossing") == [("1", "Crossing in 2 bars"), ("2", "Crossing in 1 bar")]


def test_a_section_too_short_for_any_call_is_told_of_its_end_as_it_begins() -> None:
    song = unrolled("name: Prelude, layers: [bells], bars: 1", *RELAY[1:], tempo="240")
    cues = section_cues(song, 0, leaves=Length(1), follows=1)
    assert announced(cues, "Crossing") == [("0", "Crossing in 1 bar")]


def test_another_end_is_another_promise_and_the_same_end_the_same() -> None:
    song = unrolled(*RELAY)
    first = {cue.key for cue in section_cues(song, 1, leaves=Length(24), follows=2)}
    again = {cue.key for cue in section_cues(song, 1, leaves=Length(24), follows=2)}
    calls = {key for key in first if key.startswith("next")}
    later = {cue.key for cue in section_cues(song, 1, leaves=Length(36), follows=2)}
    assert first == again
    assert len(calls) == 4
    assert not calls & later


def test_the_first_section_is_counted_in() -> None:
    cues = section_cues(unrolled(*RELAY), 0, leaves=Length(8), follows=1)
    assert announced(cues, "Prelude") == [("-1", "Prelude in 1 bar")]


def test_a_count_in_of_four_bars_says_four_two_and_one() -> None:
    song = unrolled("name: Prelude, layers: [bells], bars: 8, count_in: 4", *RELAY[1:])
    cues = section_cues(song, 0, leaves=Length(8), follows=1)
    assert [at for at, _ in announced(cues, "Prelude")] == ["-4", "-2", "-1"]


def test_a_section_that_follows_in_time_is_not_counted_in() -> None:
    assert all(cue.into >= Length(0) for cue in section_cues(unrolled(*RELAY), 1, leaves=None, follows=2))


def test_in_a_ramp_the_least_seconds_hold_exactly() -> None:
    song = unrolled(*RELAY, tempo="{from: 100, to: 300}")
    axis, leads = Axis(song, 1), Leads(least_seconds=Fraction(7, 3))
    for bars in (1, 2, 4, 8):
        at = leads.one(axis, Length(24), bars)
        assert axis.seconds(Length(24)) - axis.seconds(at) >= Fraction(7, 3)


def test_leads_of_no_bars_are_refused() -> None:
    with pytest.raises(ValueError, match="1 bar or more"):
        Leads(bars=(4, 0))
