"""Laws of the unrolled song: sections add up, notes agree with layers, frames with hosts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bridge.errors import UsageError
from bridge.exact import Length, Meters, Place, samples, samples_along
from bridge.plan.model import Origin
from bridge.song import Frame, HostCount, NoteRow, counted_rows, full_meetings, landings
from tests.out.songs import layer, section, song, tide

METERS = ["4/4", "7/8", "2+2+3/8", "6/8", "1/16", "31/8", "4/4,4/4,7/8", "3/4,5/16"]
CYCLES = ["3/16", "5/8", "1/4", "7/12", "1/1", "17/16", "2/3"]

layers_of_songs = st.lists(
    st.builds(
        lambda cycle, start, rate: (cycle, start, rate),
        st.sampled_from(CYCLES),
        st.sampled_from(["0", "1/4", "5/16", "3"]),
        st.sampled_from(["1", "73/72", "2/3"]),
    ),
    min_size=1,
    max_size=4,
)


@st.composite
def songs(draw):
    layers = [
        layer(f"part {number}", cycle, start=start, rate=rate)
        for number, (cycle, start, rate) in enumerate(draw(layers_of_songs))
    ]
    names = [one.name for one in layers]
    count = draw(st.integers(1, 5))
    sections = [
        section(
            f"section {number}",
            draw(st.integers(1, 6)),
            draw(st.lists(st.sampled_from(names), unique=True)),
            meter=draw(st.sampled_from(METERS)),
            tempo=draw(st.sampled_from(["20", "97", "115.2", "400"])),
            to=draw(st.sampled_from([None, "132", "60"])),
            runs_on=number < count - 1 and draw(st.booleans()),
            resolve=[],
        )
        for number in range(count)
    ]
    return song(layers, sections, origin=Origin(bar=draw(st.integers(1, 6))))


@given(songs())
def test_sections_add_up_to_the_song(made):
    assert made.sections[0].start == Place(0)
    for before, after in zip(made.sections, made.sections[1:], strict=False):
        assert before.end == after.start
        assert before.last_bar + 1 == after.first_bar
    assert sum((s.length.whole_notes for s in made.sections), Fraction(0)) == made.end.whole_notes
    bars = list(made.bars)
    assert [bar.number for bar in bars] == list(range(1, made.total_bars + 1))
    assert bars[-1].start + bars[-1].meter.length == made.end
    assert made.seconds(made.end) == made.total_seconds


@given(songs(), st.fractions(0, 40, max_denominator=96))
def test_bar_and_beat_lead_back_to_the_place(made, whole_notes):
    place = Place(whole_notes)
    assert made.bars.place(made.bars.bar_beat(place)) == place


@given(songs())
def test_onsets_are_home_exactly_where_the_layer_is(made):
    for placed in made.sections:
        for part in placed.parts:
            homes = [onset.place for onset in part.onsets() if onset.home]
            assert homes == list(part.homes())
            assert all(part.start <= place < part.end for place in homes)
            assert all(part.layer.is_home(place - part.entry) for place in homes)
            turns = part.layer.turns(part.end - part.entry) - part.layer.turns(part.start - part.entry)
            assert abs(len(homes) - turns) <= 1


@given(songs())
def test_runs_carry_the_phase_and_every_other_section_begins_anew(made):
    entries: dict[str, Place] = {}
    for before, placed in zip([None, *made.sections], made.sections, strict=False):
        if before is None or not before.section.runs_on:
            entries = {}
        for part in placed.parts:
            assert part.entry == entries.setdefault(part.layer.name, placed.start)


@given(songs())
def test_note_rows_hold_the_same_notes_as_the_onsets(made):
    for placed in made.sections:
        for part in placed.parts:
            rows = sorted(
                ((place, row.home) for row in part.rows() for place in row.places()),
                key=lambda note: note[0].whole_notes,
            )
            assert rows == [(onset.place, onset.home) for onset in part.onsets()]


@given(songs())
def test_counted_rows_are_the_counted_beats(made):
    rows = [
        (place, row.home)
        for placed in made.sections
        for row in counted_rows(placed)
        for place in row.places()
    ]
    beats = [(place, beat == 1) for place, beat in made.counted_beats()]
    assert sorted(rows, key=lambda beat: beat[0].whole_notes) == beats


@given(songs(), st.sampled_from([48000, 44100, Fraction(60000)]), st.sampled_from(["0", "1/3", "2.5"]))
@example(
    song([layer("band", "1/16")], [section("Ebb", 2, ["band"], tempo="120")]), 12, "2.5"
)  # every second one a half
def test_samples_along_a_row_are_those_of_its_places(made, rate, before):
    shift = Fraction(before)
    for placed in made.sections:
        for part in placed.parts:
            for row in part.rows():
                along = samples_along(made.tempo_map, row.first, row.step, row.count, rate=rate, before=shift)
                assert along == [samples(shift + made.seconds(place), rate) for place in row.places()]


@given(songs(), st.fractions(-3, 40, max_denominator=64))
def test_the_hosts_count_leads_back_to_the_place(made, whole_notes):
    host, place = HostCount(made), Place(whole_notes)
    assert host.place_of_whole_notes(host.whole_notes(place)) == place
    assert host.place_of_bars(host.bars(place)) == place
    back = host.place_of_seconds(host.seconds(place))
    assert abs((back - place).whole_notes) < Fraction(1, 10**6)


@given(songs())
def test_at_the_origin_a_file_counts_as_the_host_does(made):
    frame, host = Frame.of(made, at_origin=True), HostCount(made)
    assert frame.quarters(frame.zero) == frame.seconds(frame.zero) == 0
    for marker in made.markers:
        assert frame.quarters(marker.place) == host.whole_notes(marker.place) * 4
        assert frame.seconds(marker.place) == host.seconds(marker.place)
        assert frame.bar_beat(marker.place) == host.bar_beat(marker.place)


def test_a_count_in_is_a_bar_at_the_first_tempo_before_bar_1():
    made = tide()
    frame = Frame.of(made, count_in=1)
    assert frame.seconds(frame.zero) == 0
    assert frame.seconds(Place(0)) == Fraction(240) / Fraction("115.2")
    assert [bar.number for bar in frame.count_in()] == [0]
    assert str(frame.bar_beat(Place(0))) == "1.1"


def test_bars_before_the_origin_take_the_seconds_that_it_names():
    made = tide(origin=Origin(bar=3, seconds=Fraction(10)))
    frame = Frame.of(made, at_origin=True, count_in=1)
    assert [frame.seconds(bar.start) for bar in frame.lead_in()] == [0, 5]
    assert [frame.seconds(bar.start) for bar in frame.count_in()] == [5]


def test_a_count_in_without_room_before_the_origin_is_refused():
    with pytest.raises(UsageError, match="leaves 0 before it"):
        Frame.of(tide(), at_origin=True, count_in=1)


def test_a_row_between_two_places_holds_its_start_and_not_its_end():
    row = NoteRow.between(
        "x", origin=Place(Fraction(-1, 8)), step=Length("3/8"), start=Place("1/4"), end=Place(1), home=True
    )
    assert [place.whole_notes for place in row.places()] == [Fraction(1, 4), Fraction(5, 8)]


def test_meetings_of_a_3_16_over_four_bar_phrases_are_twelve_bars_apart():
    # common practice, no source: a 3/16 cycle over 4/4 in phrases of 4 bars meets every 12 bars
    made = song([layer("band", 4), layer("drum", "3/16")], [section("Crossing", 36, ["band", "drum"])])
    assert [made.bars.bar_beat(meeting.place).bar for meeting in full_meetings(made)] == [1, 13, 25]
    assert [made.bars.bar_beat(landing.place).bar for landing in landings(made)] == [37]


@given(songs())
def test_full_meetings_are_where_all_are_home_and_none_is_left_out(made):
    for placed in made.sections:
        if len(placed.parts) < 2:
            continue
        found = [m.place for m in full_meetings(made) if m.section == placed.section.index]
        walked = [
            place
            for place in placed.parts[0].homes()
            if all(part.layer.is_home(place - part.entry) for part in placed.parts[1:])
        ]
        assert found == walked


def test_a_repeating_list_counts_backwards_before_the_song():
    made = song([layer("band", "1/4")], [section("Ebb", 6, ["band"], meter="4/4,7/8")], origin=Origin(bar=3))
    frame = Frame.of(made, at_origin=True)
    assert [str(bar.meter) for bar in frame.lead_in()] == ["4/4", "7/8"]
    assert frame.lead == Meters.parse("4/4,7/8").length
