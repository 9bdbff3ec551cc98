"""The plan's cues in the solved song: where each falls, and which fall nowhere and why."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.exact import Meters, Place
from bridge.plan.cue import CueAt, PlanCue
from bridge.plan.model import Free
from bridge.song import asked_cues, full_meetings, landings, lost_cues
from tests.out.songs import layer, section, song

BAND, DRUM = layer("band", 4), layer("drum", "3/16")


def tide(*places, name="Crossing"):
    """Ebb, 8 bars of 4/4; Crossing, 24 bars of it; Landfall, 4 bars of 7/8 and 3/4 by turns."""
    cues = tuple(PlanCue(at=CueAt.parse(place), say=place) for place in places)
    sections = [
        section("Ebb", 8, ["band"]),
        section("Crossing", 24, ["band", "drum"]),
        section("Landfall", 4, ["drum"], meter="7/8,3/4", resolve=[]),
    ]
    for fields in sections:
        if fields["name"] == name:
            fields["cues"] = cues
    return song([BAND, DRUM], sections)


def place_of(text, *, name="Crossing"):
    made = tide(text, name=name)
    (cue,) = asked_cues(made)
    assert not lost_cues(made)
    assert made.sections[cue.section].name == name
    return str(made.bars.bar_beat(cue.place))


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("start", "9.1"),
        ("end", "33.1"),
        ("end - 8 bars", "25.1"),
        ("end - 24 bars", "9.1"),
        ("start - 2 bars", "7.1"),
        ("start - 8 bars", "1.1"),
        ("start - 3 beats", "8.2"),
        ("start + 24 bars", "33.1"),
        ("bar 5", "13.1"),
        ("bar 5.3", "13.3"),
        ("bar 5.3 + 1/16", "13.3+1/16"),
        ("bar 5 - 1 beat", "12.4"),
        ("meeting 1", "21.1"),
        ("meeting 2", "33.1"),
        ("meeting 2 - 2 bars", "31.1"),
        ("meeting 1 + 5 beats", "22.2"),
    ],
)
def test_places_are_told_from_the_section(text, place):
    assert place_of(text) == place


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("end - 1 beat", "36.3"),
        ("end - 2 bars", "35.1"),
        ("end - 1 bar", "36.1"),
        ("start - 1 bar", "32.1"),
        ("start - 1 beat", "32.4+1/8"),
        ("bar 1.7", "33.7"),
        ("bar 2.3", "34.3"),
    ],
)
def test_a_beat_is_that_of_the_anchors_own_bar_and_bars_are_counted_by_barlines(text, place):
    assert place_of(text, name="Landfall") == place


def test_so_many_bars_on_stand_as_far_behind_the_barline():
    assert place_of("bar 1.2 + 2 bars", name="Landfall") == "35.2"


@pytest.mark.parametrize(
    ("text", "name", "why"),
    [
        ("bar 50", "Crossing", "Crossing has 24 bars"),
        ("meeting 3", "Crossing", "Crossing has 2 full meetings after its start"),
        ("meeting 1", "Landfall", "Landfall has no full meeting after its start"),
        ("bar 2.4", "Landfall", "bar 2 of Landfall is in 3/4 and has no beat 4"),
        ("start + 25 bars", "Crossing", "that is after Crossing"),
        ("start - 9 bars", "Crossing", "that is before Ebb begins"),
        ("start - 1/16", "Ebb", "that is before the song begins"),
        ("end - 40 bars", "Crossing", "that is before Ebb begins"),
    ],
)
def test_what_falls_nowhere_is_told_with_the_reason(text, name, why):
    made = tide("start", text, name=name)
    assert [cue.cue.say for cue in asked_cues(made)] == ["start"]
    (lost,) = lost_cues(made)
    assert lost.why == why
    assert lost.cue.say == text
    assert str(lost) == f"the cue at {text!r} falls nowhere: {why}"


def test_cues_stand_in_the_order_of_their_places_and_equals_as_in_the_file():
    made = tide("end", "start", "bar 1", "end - 24 bars", "bar 2 - 1 beat")
    assert [cue.cue.say for cue in asked_cues(made)] == [
        "start",
        "bar 1",
        "end - 24 bars",
        "bar 2 - 1 beat",
        "end",
    ]


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(1, 12), st.sampled_from(["3/16", "5/8", "3/8", "7/16"]), st.integers(1, 40))
def test_the_meetings_of_a_section_are_those_of_the_song_and_its_landing_the_last(bars, cycle, number):
    cue = PlanCue(at=CueAt.parse(f"meeting {number}"), say="look up")
    made = song(
        [layer("band", "1"), layer("drum", cycle)],
        [section("Ebb", 1, ["band"]), section("Crossing", bars, ["band", "drum"], cues=(cue,))],
    )
    inside = [meeting.place for meeting in full_meetings(made) if meeting.section == 1]
    expected = [place for place in inside if place > made.sections[1].start]
    expected += [meeting.place for meeting in landings(made) if meeting.section == 1]
    found = [one.place for one in asked_cues(made)]
    assert found == expected[number - 1 : number]
    assert len(lost_cues(made)) == (number > len(expected))


def test_a_cue_follows_its_section_wherever_the_planner_puts_it():
    cue = PlanCue(at=CueAt.parse("end - 8 bars"), say="brushes down")
    for bars in (8, 12, 60):
        made = song([BAND], [section("Ebb", 4, ["band"]), section("Swell", bars, ["band"], cues=(cue,))])
        assert asked_cues(made)[0].place == Place(Fraction(4 + bars - 8))


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("start - 2 beats", 1),
        ("start - 2 bars", 4),
        ("bar 1.2 - 1 bar", Fraction(3, 2)),
        ("start - 3/16", Fraction(3, 8)),
    ],
)
def test_in_the_end_of_a_free_passage_it_is_counted_as_the_section_that_follows(text, seconds):
    cue = PlanCue(at=CueAt.parse(text), say="now")
    free = Free(about=Fraction(20))
    bars, tempo = free.on_the_bar_axis(Meters.parse("4/4"))
    gap = section("Gap", bars, [], resolve=[]) | {"free": free, "tempo": tempo}
    made = song([BAND], [gap, section("Landfall", 4, ["band"], tempo="120", cues=(cue,))])
    (asked,) = asked_cues(made)
    assert made.seconds(made.sections[1].start) - made.seconds(asked.place) == seconds


def test_a_cue_that_would_be_counted_before_a_free_passage_begins_is_lost():
    cue = PlanCue(at=CueAt.parse("start - 11 bars"), say="now")
    free = Free(about=Fraction(20))
    bars, tempo = free.on_the_bar_axis(Meters.parse("4/4"))
    gap = section("Gap", bars, [], resolve=[]) | {"free": free, "tempo": tempo}
    made = song([BAND], [gap, section("Landfall", 4, ["band"], tempo="120", cues=(cue,))])
    assert [lost.why for lost in lost_cues(made)] == ["that is before Gap begins"]
