"""MusicXML: every bar full, every note at its exact place, the schema kept, read back by another library."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from io import BytesIO
from itertools import accumulate, pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import UsageError
from bridge.exact import Meter
from bridge.out.formats import exporter
from bridge.out.musicxml import score_of
from bridge.out.musicxml.bars import GRID, staff_of
from bridge.out.musicxml.elements import beams
from bridge.out.musicxml.rhythm import Span, written_bar
from bridge.out.request import Request
from bridge.song import Frame, Song
from tests import oracle
from tests.out.drawn import LOW_TIDE, ONE, many_layers, song_of

ODD = """
pulsebridge: 1
title: "Odd <tides> & 潮"
tempo: 90
meter: 4/4
layers:
  five:          {pulses: 5, over: 1 bar}
  three over two: {pulses: 3, over: 2 bars}
  bells:         {groups: [3, 3, 2], unit: 1/8}
  late:          {cycle: 5/8, start: 1/4}
  figure:        {cycle: 12/16}
  second figure: {cycle: 12/16, rate: 73/72}
sections:
  - {name: In, layers: [five, three over two, bells, late], bars: 4, resolve: [], runs_on: true}
  - name: Sevens
    layers: [bells, late, five]
    bars: 3
    meter: 2+2+3/8
    resolve: []
    tempo: {from: 90, to: 120}
  - {name: Pause, layers: [], bars: 2, meter: 6/8}
  - {name: Sliding, layers: [figure, second figure], bars: 6, meter: "4/4", resolve: [], tempo: 120}
"""


LED_IN = """
pulsebridge: 1
tempo: {from: 90, to: 130}
meter: [4/4, 7/8]
layers: {band: {cycle: 2 bars}, drum: {cycle: 3/16}, keys: {pulses: 5, over: 2 bars}}
sections:
  - {name: Ebb, layers: [drum], bars: 4, pickup: 3/8, count_in: 2 bars, resolve: []}
  - {name: Swell, layers: [band, drum, keys], bars: 4, pickup: 1/4, count_in: 1 bar, resolve: []}
"""


@cache
def song(name: str) -> Song:
    return song_of(
        {
            "low tide": LOW_TIDE,
            "odd": ODD,
            "one": ONE,
            "24 layers": many_layers().replace("bars: 48", "bars: 3"),
            "led in": LED_IN,
        }[name]
    )


SONGS = ("odd", "one", "24 layers", "led in")


@pytest.fixture(scope="module")
def schema():
    """The MusicXML 4.0 schema, as the package ``musicxml`` ships it."""
    xmlschema = oracle("xmlschema")
    (path,) = Path(oracle("musicxml").__file__).parent.rglob("musicxml_4_0.xsd")
    return xmlschema.XMLSchema(str(path))


@pytest.mark.parametrize("name", SONGS)
def test_the_file_keeps_the_schema(name, schema):
    # MusicXML 4.0, W3C Music Notation Community Group, 2021: musicxml.xsd
    schema.validate(ElementTree.ElementTree(ElementTree.fromstring(score_of(song(name)).content)))


def attacks(song: Song, name: str) -> list[Fraction]:
    return [onset.place.whole_notes for part in song.sounding()[name] for onset in part.onsets()]


@pytest.mark.parametrize("name", SONGS)
def test_every_attack_is_written_at_its_exact_place(name):
    for layer in song(name).plan.layers:
        staff = staff_of(song(name), layer)
        written = [
            bar.start.whole_notes + piece.start
            for bar in staff.bars
            for piece in bar.pieces
            if piece.sounds and not piece.tied_from
        ]
        if staff.moved:
            continue
        assert written == attacks(song(name), layer)


def test_what_no_tuplet_holds_is_moved_by_half_a_grid_at_most_and_told():
    staff = staff_of(song("odd"), "second figure")
    written = [
        bar.start.whole_notes + piece.start
        for bar in staff.bars
        for piece in bar.pieces
        if piece.sounds and not piece.tied_from
    ]
    wanted = attacks(song("odd"), "second figure")
    assert staff.moved
    assert all(abs(one - other) <= GRID / 2 for one, other in zip(written, wanted, strict=True))
    assert written != wanted
    (told,) = [note for note in score_of(song("odd")).notes if "exactly:" in note]
    # half of 1/32 at 90 quarters a minute: 1/64 · 240/90 s = 41.7 ms
    assert told.startswith("'second figure' cannot be written exactly: its notes stand on the nearest 1/32")
    assert "at most 42 ms off" in told


@pytest.mark.parametrize("name", SONGS)
def test_every_bar_is_full_in_whole_divisions(name):
    score = score_of(song(name))
    root = ElementTree.fromstring(score.content)
    first = 0 if song(name).plan.sections[0].pickup else 1
    bars = [
        song(name).bars.bar_at(song(name).bars.start_of(first + index))
        for index in range(song(name).total_bars + 1)
    ]
    for part in root.iter("part"):
        measures = list(part.iter("measure"))
        assert len(measures) == song(name).total_bars + 1 - first
        for bar, measure in zip(bars, measures, strict=False):
            durations = [int(duration.text) for duration in measure.iter("duration")]
            assert sum(durations) == bar.meter.length.quarters * score.divisions


def test_music21_reads_the_same_attacks_and_lengths():
    read = oracle("music21").converter.parseData(score_of(song("odd")).content.decode(), format="musicxml")
    placed = song("odd")
    for part, name in zip(read.parts, placed.plan.layers, strict=True):
        staff = staff_of(placed, name)
        wanted = [
            (bar.start.quarters + piece.start * 4, piece.length * 4)
            for bar in staff.bars
            for piece in bar.pieces
            if piece.sounds
        ]
        found = [
            (Fraction(note.getOffsetInHierarchy(part)), Fraction(note.duration.quarterLength))
            for note in part.recurse().notes
        ]
        assert found == wanted


def test_music21_reads_meters_tempi_and_rehearsal_marks():
    music21 = oracle("music21")
    read = music21.converter.parseData(score_of(song("odd")).content.decode(), format="musicxml")
    first = read.parts[0]
    meters = first.recurse().getElementsByClass("TimeSignature")
    assert [time.barDuration.quarterLength for time in meters] == [4, 3.5, 3, 4]
    marks = [mark.content for mark in first.recurse().getElementsByClass("RehearsalMark")]
    assert marks == ["In", "Sevens", "Pause", "Sliding"]
    tempi = [mark.number for mark in first.recurse().getElementsByClass("MetronomeMark") if mark.number]
    assert tempi[0] == 90
    assert 120 in tempi


def test_playing_tempi_under_a_ramp_make_every_bar_last_as_long_as_it_should():
    root = ElementTree.fromstring(score_of(song("odd")).content)
    bars = list(song("odd").bars)
    tempo, seconds = 0.0, 0.0
    for bar, measure in zip(bars, root.find("part").iter("measure"), strict=True):
        for sound in measure.iter("sound"):
            tempo = float(sound.get("tempo"))
        assert seconds == pytest.approx(float(song("odd").seconds(bar.start)), abs=1e-5)
        seconds += float(bar.meter.length.quarters) * 60 / tempo
    assert seconds == pytest.approx(float(song("odd").total_seconds), abs=1e-5)


def test_additive_meters_keep_their_groups():
    root = ElementTree.fromstring(score_of(song("odd")).content)
    times = [
        (time.find("beats").text, time.find("beat-type").text) for time in root.find("part").iter("time")
    ]
    assert times == [("4", "4"), ("2+2+3", "8"), ("6", "8"), ("4", "4")]


def test_five_in_the_time_of_a_bar_is_a_quintuplet_of_quarters():
    (part, *_) = ElementTree.fromstring(score_of(song("odd")).content).iter("part")
    notes = list(part.find("measure").iter("note"))
    assert [note.find("type").text for note in notes] == ["quarter"] * 5
    assert {note.find("time-modification/actual-notes").text for note in notes} == {"5"}
    assert {note.find("time-modification/normal-notes").text for note in notes} == {"4"}
    assert [mark.get("type") for note in notes for mark in note.iter("tuplet")] == ["start", "stop"]


def test_ties_are_closed_and_tacet_bars_are_whole_rests():
    for part in ElementTree.fromstring(score_of(song("odd")).content).iter("part"):
        open_tie = False
        for note in part.iter("note"):
            ties = {tie.get("type") for tie in note.iter("tie")}
            assert ("stop" in ties) == open_tie
            open_tie = "start" in ties
        assert not open_tie
        pause = part.findall("measure")[7]
        assert [rest.get("measure") for rest in pause.iter("rest")] == ["yes"]


lengths = st.integers(1, 24)


@given(
    st.sampled_from(["4/4", "3/4", "6/8", "7/8", "2+2+3/8", "1/16", "31/8", "12/8"]),
    st.lists(lengths, min_size=1, max_size=8),
    st.sampled_from([1, 3, 5, 7]),
)
def test_a_written_bar_sounds_as_long_as_its_spans(meter_text, weights, odd):
    meter = Meter.parse(meter_text)
    bar = meter.length.whole_notes
    # borders on a grid of sixteen (and odd parts) to the bar's own length
    grid = [Fraction(0), *accumulate(Fraction(weight) for weight in weights)]
    borders = sorted({round(at / grid[-1] * 16 * odd) for at in grid})
    edges = [bar * border / (16 * odd) for border in borders]
    spans = [
        Span(start=start, end=end, sounds=number % 3 != 2)
        for number, (start, end) in enumerate(pairwise(edges))
    ]
    pieces = written_bar(meter, spans)
    if pieces is None:
        return  # more notes than anyone could count
    assert sum(piece.length for piece in pieces) == bar
    for piece in pieces:
        if not piece.whole_bar:
            ratio = piece.tuplet.ratio if piece.tuplet else 1
            assert piece.length == piece.value.whole_notes * ratio
    heads = [piece.start for piece in pieces if piece.sounds and not piece.tied_from]
    assert heads == [span.start for span in spans if span.sounds]
    states = beams(pieces, [beat.whole_notes for beat in meter.counted])
    levels: set[int] = set()
    for state in states:
        for level, what in enumerate(state, start=1):
            assert (level in levels) == (what in ("continue", "end"))
            levels = levels | {level} if what in ("begin", "continue") else levels - {level}
    assert not levels


def test_the_exporter_writes_the_score_and_says_what_it_moved():
    file = BytesIO()
    written = exporter(Path("song.musicxml")).write(Frame.of(song("odd")), file, Request())
    assert file.getvalue() == score_of(song("odd")).content
    assert len(written.notes) == 2


def test_a_note_is_held_over_the_border_of_sections_that_run_on_and_ends_with_others():
    text = LOW_TIDE.replace("bars: 36, energy: [20, 55]", "bars: 35, energy: [20, 55]")
    placed = song_of(text)
    bars = {bar.number: bar for bar in staff_of(placed, "band").bars}
    # the band's four-bar turn begins in bar 49 and reaches over the border before bar 52
    assert [bars[number].pieces[0].tied_from for number in (49, 50, 51, 52, 53)] == [
        False, True, True, True, False,
    ]  # fmt: skip
    assert not bars[17].pieces[0].tied_from


def test_an_excerpt_is_what_stands_in_the_whole_score():
    for name in song("odd").plan.layers:
        whole = staff_of(song("odd"), name)
        if whole.moved:
            continue
        for first in range(1, 14):
            two = staff_of(song("odd"), name, first_bar=first, bars=2).bars
            assert two == whole.bars[first - 1 : first + 1]


def test_a_score_that_no_program_opens_is_refused():
    text = ONE.replace("bars: 3", "bars: 20000").replace("cycle: 1000/1", "cycle: 1/4")
    with pytest.raises(UsageError, match="more than a notation program opens"):
        score_of(song_of(text))
