"""A pickup: who plays it, which notes fall into it, and what it leaves as it is."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bridge.errors import UsageError
from bridge.exact import Length, Place
from bridge.plan.model import Origin
from bridge.song import Frame, bars_counted_in, counted_in, full_meetings
from tests.out.songs import layer, section, song

BAND, DRUM, BELLS = layer("band", 4), layer("drum", "3/16"), layer("bells", "1", groups=[3, 3, 2])
QUARTER = Length("1/4")


def notes(made, name):
    """Whole notes from bar 1 of every note of a layer."""
    rows = [row for part in made.sounding()[name] for row in part.rows()]
    return sorted(place.whole_notes for row in rows for place in row.places())


def before(made, name, place):
    """How long before ``place`` the notes in the bar before it are."""
    return [place - at for at in notes(made, name) if place - 1 <= at < place]


def test_a_pickup_is_the_end_of_a_turn_that_ends_on_the_first_barline():
    made = song(
        [BAND, DRUM, BELLS],
        [
            section("Ebb", 12, ["band"]),
            section("Swell", 12, ["band", "drum", "bells"], pickup=Length("1/2")),
        ],
    )
    assert before(made, "drum", 12) == [Fraction(3, 8), Fraction(3, 16)]
    assert before(made, "bells", 12) == [Fraction(1, 4)]


def test_where_no_note_of_the_turn_falls_into_it_one_stands_at_its_beginning():
    made = song([BAND], [section("Ebb", 4, ["band"], pickup=QUARTER)])
    assert notes(made, "band") == [Fraction(-1, 4), 0]
    (part,) = made.sections[0].parts
    assert [row.home for row in part.rows()] == [True, False]


def test_turns_markers_and_meetings_stay_as_they_are():
    plain, led = (
        song(
            [DRUM, BELLS],
            [
                section("Ebb", 3, ["drum"], pickup=pickup),
                section("Swell", 3, ["drum", "bells"], pickup=pickup),
            ],
        )
        for pickup in (Length(0), QUARTER)
    )
    assert led.markers == plain.markers
    for one, other in zip(led.sections, plain.sections, strict=True):
        assert [part.turns for part in one.parts] == [part.turns for part in other.parts]
    assert list(full_meetings(led)) == list(full_meetings(plain))
    assert set(notes(plain, "drum")) <= set(notes(led, "drum"))


def test_who_comes_home_plays_on_and_no_note_is_doubled():
    made = song([DRUM], [section("Ebb", 3, ["drum"]), section("Swell", 3, ["drum"], pickup=QUARTER)])
    assert notes(made, "drum") == [Fraction(3, 16) * turn for turn in range(32)]


def test_who_does_not_come_home_leaves_the_old_count_where_the_pickup_begins():
    made = song(
        [DRUM, BELLS],
        [section("Ebb", 1, ["drum", "bells"], resolve=[]), section("Swell", 3, ["drum"], pickup=QUARTER)],
    )
    assert before(made, "drum", 1) == [Fraction(step, 16) for step in (16, 13, 10, 7, 3)]
    assert made.sections[0].counts_until == Place("3/4")


def test_no_meeting_is_told_where_somebody_has_left_the_count():
    quick = layer("quick", "1/8")
    slow = layer("slow", "7/8")
    sections = [
        section("Ebb", 1, ["quick", "slow"], resolve=[]),
        section("Swell", 7, ["slow"], pickup=QUARTER),
    ]
    met = [meeting.place for meeting in full_meetings(song([quick, slow], sections))]
    assert met == [Place(0)]
    sections[1]["pickup"] = Length(0)
    met = [meeting.place for meeting in full_meetings(song([quick, slow], sections))]
    assert met == [Place(0), Place("7/8")]


def test_layers_that_run_on_or_start_later_play_no_pickup():
    late = layer("late", "1/4", start="1/8")
    made = song(
        [BAND, DRUM, late],
        [
            section("Ebb", 4, ["band"], runs_on=True),
            section("Swell", 12, ["band", "drum", "late"], resolve=[], pickup=QUARTER),
        ],
    )
    assert [part.pickup for part in made.sections[1].parts] == [Length(0), QUARTER, Length(0)]
    assert before(made, "band", 4) == []
    assert before(made, "late", 4) == []


def test_a_file_of_a_song_with_a_pickup_begins_a_bar_before_bar_1_and_says_so():
    made = song([BELLS], [section("Ebb", 2, ["bells"], tempo="120", pickup=QUARTER)])
    frame = Frame.of(made)
    assert frame.seconds(Place(0)) == 2
    assert frame.seconds(Place(Fraction(-1, 4))) == Fraction(3, 2)
    assert list(frame.count_in()) == []
    assert ["begins one bar before" in remark for remark in frame.remarks()] == [True]
    assert list(Frame.of(made, count_in=1).remarks()) == []


def test_a_pickup_without_room_before_the_origin_is_refused():
    made = song([BELLS], [section("Ebb", 2, ["bells"], pickup=QUARTER)], origin=Origin(bar=1))
    with pytest.raises(UsageError, match="pickup lies in the bar before bar 1"):
        Frame.of(made, at_origin=True)
    roomy = song([BELLS], [section("Ebb", 2, ["bells"], pickup=QUARTER)], origin=Origin(bar=2))
    assert list(Frame.of(roomy, at_origin=True).remarks()) == []


def test_counted_in_are_the_bars_before_a_section_as_far_as_the_song_has_them():
    made = song(
        [BAND],
        [
            section("Ebb", 4, ["band"], count_in=2),
            section("Swell", 4, ["band"], count_in=2),
            section("Hush", 4, [], count_in=16),
        ],
    )
    counted = [
        [made.bars.bar_at(place).number for place, first in counted_in(made, placed) if first]
        for placed in made.sections
    ]
    assert counted == [[], [3, 4], [1, 2, 3, 4, 5, 6, 7, 8]]
    assert bars_counted_in(made) == 2
    assert ["--count-in" in remark for remark in Frame.of(made).remarks()] == [True]
    assert list(Frame.of(made, count_in=2).remarks()) == []
