"""Meetings and landings: told to all in bars, to each player in own turns; held sections as well."""

from __future__ import annotations

from bridge.cues import Leads, section_cues
from bridge.exact import Length
from tests.cues.songs import RELAY, said, unrolled


def test_all_home_on_the_one_in_three_bars_is_sixteen_turns_to_the_drum() -> None:
    cues = section_cues(unrolled(*RELAY), 1, leaves=Length(24), follows=2)
    assert ("9", "all home on the one in 3 bars") in said(cues)
    assert ("9", "16 turns, then all home on the one") in said(cues, player="percussion")
    assert ("9", "this turn, then all home on the one") in said(cues, player="guitars")


def test_the_landing_names_what_it_lands_in() -> None:
    cues = section_cues(unrolled(*RELAY), 1, leaves=Length(24), follows=2)
    assert ("21", "all home on the one in 3 bars: Landfall") in said(cues)
    assert ("21", "16 turns, then Landfall") in said(cues, player="percussion")


def test_where_not_all_are_home_at_the_end_no_landing_is_promised() -> None:
    cues = section_cues(unrolled(*RELAY), 1, leaves=Length(28), follows=2)
    assert not [text for _, text in said(cues) if text.endswith(": Landfall")]


def test_a_turn_that_has_not_begun_counts_from_its_first_home_on() -> None:
    song = unrolled("name: Prelude, layers: [late, hand drum], bars: 3", *RELAY[1:])
    cues = section_cues(song, 0, leaves=Length(3), follows=1)
    assert ("0", "3 turns from its first home on, then Crossing") in said(cues, player="late")


def test_a_held_section_goes_on_meeting_and_a_release_promises_the_landing_anew() -> None:
    song = unrolled(*RELAY)
    held = section_cues(song, 1, leaves=None, follows=2)
    assert [at for at, text in said(held) if text == "all home on the one in 3 bars"][:4] == [
        "9",
        "21",
        "33",
        "45",
    ]
    landing = {cue.key for cue in section_cues(song, 1, leaves=Length(36), follows=2)}
    before = {cue.key for cue in section_cues(song, 1, leaves=Length(24), follows=2)}
    assert {key for key in landing & before if key.startswith("meeting")}
    assert not {key for key in landing & before if key.startswith("landing")}


def test_an_open_section_is_looked_at_as_far_as_is_asked() -> None:
    song = unrolled(*RELAY)
    near = section_cues(song, 1, leaves=None, follows=2, until=Length(40))
    far = section_cues(song, 1, leaves=None, follows=2, until=Length(400))
    assert {cue.key for cue in near} < {cue.key for cue in far}
    assert max(cue.target.whole_notes for cue in near) < 40
    assert max(cue.target.whole_notes for cue in far) > 380


def test_meetings_that_follow_closely_are_not_worth_a_word_each() -> None:
    song = unrolled("name: Prelude, layers: [bells, band], bars: 40", *RELAY[1:])
    told = section_cues(song, 0, leaves=Length(40), follows=1)
    assert [text for _, text in said(told) if "home" in text] == ["all home on the one in 3 bars: Crossing"]
    close = section_cues(song, 0, leaves=Length(40), follows=1, leads=Leads(apart=4))
    assert len([text for _, text in said(close) if "home" in text]) == 10


def test_a_lone_layer_meets_nobody() -> None:
    cues = section_cues(unrolled(*RELAY), 0, leaves=Length(8), follows=1)
    assert not [text for _, text in said(cues) if "home" in text]
