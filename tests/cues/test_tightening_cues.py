"""A tightening is announced whole, then stage by stage where there is time, in the player's own turns."""

from __future__ import annotations

from bridge.cues import section_cues
from bridge.exact import Length
from tests.cues.songs import RELAY, said, unrolled

NARROWS = (
    "name: Narrows, layers: [band, hand drum], bars: 28,"
    " tighten: {layer: hand drum, cycles: [5/8, 4/8, 3/8, 2/8], over: 14 bars}"
)


def test_all_hear_of_the_stages_and_the_player_of_turns() -> None:
    cues = section_cues(unrolled(NARROWS, *RELAY[1:]), 0, leaves=Length(28), follows=1)
    assert [one for one in said(cues) if "hand drum" in one[1]] == [
        ("10", "hand drum tightens in 4 bars: 8 turns each of 5/8, 4/8, 3/8, 2/8"),
        ("18", "hand drum in 4/8 in 1 bar"),
        ("22", "hand drum in 3/8 in 1 bar"),
        ("25", "hand drum in 2/8 in 1 bar"),
    ]
    assert [one for one in said(cues, player="percussion") if ", then 8 of" in one[1]] == [
        ("10", "this turn and 21 more, then 8 of 5/8"),
        ("18", "this turn and 1 more, then 8 of 4/8"),
        ("22", "2 turns, then 8 of 3/8"),
        ("25", "this turn and 2 more, then 8 of 2/8"),
    ]


def test_stages_too_short_to_be_told_of_one_by_one_are_left_to_the_first_cue() -> None:
    short = (
        "name: Narrows, layers: [hand drum], bars: 28,"
        " tighten: {layer: hand drum, cycles: [5/16, 4/16, 3/16], over: 3 bars}"
    )
    cues = section_cues(unrolled(short, *RELAY[1:], tempo="200"), 0, leaves=Length(28), follows=1)
    told = [text for _, text in said(cues) if "hand drum" in text]
    assert told[0].endswith("turns each of 5/16, 4/16, 3/16")
    assert len(told) == 1


def test_what_is_left_before_it_tightens_is_not_told_of_the_tightening() -> None:
    cues = section_cues(unrolled(NARROWS, *RELAY[1:]), 0, leaves=Length(12), follows=1)
    assert not [text for _, text in said(cues) if "tightens" in text]


def test_after_a_tightening_the_next_section_names_the_cycle_that_is_taken_up_again() -> None:
    cues = section_cues(unrolled(NARROWS, *RELAY[1:]), 0, leaves=Length(28), follows=1)
    assert ("24", "Crossing in 4 bars: hand drum in turns of 3/16") in said(cues, player="percussion")
