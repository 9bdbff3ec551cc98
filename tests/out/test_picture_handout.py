"""The handout: every home at its own instant, the approach counted down, nothing in anything's way."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.cycles import Layer
from bridge.errors import UsageError
from bridge.exact import Length, Meter, Meters, Place, Ratio
from bridge.out.handout import handout_scene, stretch_of_layers, stretch_of_section
from bridge.out.handout.syllables import counted
from bridge.out.handout.systems import laid_out
from bridge.out.scene import Path
from bridge.out.typeface import Typeface
from tests.out.drawn import LOW_TIDE, outside, overlapping, song_of

FACES = Typeface.installed()
FOUR = Meters.parse("4/4")
BAND = Layer(name="band", cycle=Length(4))
DRUM = Layer(name="hand drum", cycle=Length("3/16"))


def stretch(*layers: Layer, meters: Meters = FOUR, bars: int | None = None):
    return stretch_of_layers(layers, meters, bars=bars, tempo=None, title=None)


def test_without_bars_it_is_the_period():
    # A 3/16 cycle over four-bar phrases of 4/4 meets every 12 bars (common practice, no source)
    assert stretch(BAND, DRUM).bars == 12


def test_every_home_has_its_wedge_at_its_own_instant():
    shown = stretch(BAND, DRUM)
    layout = laid_out(shown, counts=0)
    scene = handout_scene(shown, FACES)
    wedges = [shape for shape in scene.shapes if isinstance(shape, Path) and len(shape.segments) % 4 == 0]
    corners = {
        (round(shape.segments[at][1][0], 3), round(shape.segments[at][1][1]))
        for shape in wedges
        for at in range(0, len(shape.segments), 4)
        if shape.segments[at + 3][0] == "Z" and shape.paint.stroke is None
    }
    for part in shown.parts:
        for home in part.homes():
            (system,) = (one for one in layout.systems if one.start <= home < one.end)
            assert round(system.x(home), 3) in {x for x, _ in corners}
    assert sum(1 for part in shown.parts for _ in part.homes()) == 3 + 64


def test_the_last_turns_before_the_meeting_are_counted_down():
    words = [text.text for text in handout_scene(stretch(BAND, DRUM), FACES).texts]
    assert [word for word in words if word.startswith("−")][1:9] == [f"−{left}" for left in range(8, 0, -1)]
    assert "56" in words  # the turn before them is still counted up
    assert "57" not in words


def test_layers_that_never_meet_need_bars():
    odd = Layer(name="odd", cycle=Length("1/4"), start=Length("1/32"))
    with pytest.raises(UsageError, match="never meet"):
        stretch(DRUM, odd)
    assert "all never meet" in handout_scene(stretch(DRUM, odd, bars=2), FACES).description


def test_a_stretch_too_long_to_be_seen_shows_its_approach_to_the_end():
    shown = stretch(BAND, DRUM, bars=9000)
    layout = laid_out(shown, counts=0)
    assert layout.systems[-1].end == shown.end
    assert layout.left_out > 0
    words = [text.text for text in handout_scene(shown, FACES).texts]
    assert any(f"its last {9000 - layout.left_out} bars" in word for word in words)
    assert "9001" in words


def test_a_section_shows_its_own_bars_and_phases():
    song = song_of(LOW_TIDE)
    second = song.sections[2]  # it runs on from the first crossing: turns go on
    whole = stretch_of_section(second)
    assert overlapping(handout_scene(whole, FACES)) == []
    band = replace(whole, parts=whole.parts[:1], together=None)
    words = [text.text for text in handout_scene(band, FACES).texts]
    assert {"53", "113"} <= set(words)
    turns = [int(word) for word in words if word.isdigit() and int(word) < 53]
    assert turns == list(range(10, 25))  # nine turns belong to the section before


@given(
    cycles=st.lists(st.fractions(Fraction(1, 32), Fraction(9), max_denominator=32), min_size=1, max_size=14),
    rate=st.sampled_from([Ratio(1), Ratio("73/72")]),
    meter=st.sampled_from(["4/4", "1/16", "31/8", "2+2+3/8", "4/4,4/4,7/8"]),
    bars=st.integers(1, 300),
    count=st.booleans(),
)
@settings(max_examples=25, deadline=None)
def test_no_text_runs_into_another_or_off_the_page(cycles, rate, meter, bars, count):
    layers = [Layer(name=f"layer {n}", cycle=Length(cycle), rate=rate) for n, cycle in enumerate(cycles)]
    scene = handout_scene(stretch(*layers, meters=Meters.parse(meter), bars=bars), FACES, count=count)
    assert overlapping(scene) == []
    assert outside(scene) == []


@pytest.mark.parametrize(
    ("meter", "grain", "words"),
    [
        # Common practice, no source.
        ("4/4", "1/16", "1 e & a 2 e & a 3 e & a 4 e & a"),
        ("3/4", "1/8", "1 & 2 & 3 &"),
        ("4/4", "1/4", "1 2 3 4"),
        ("6/8", "1/8", "1 & a 2 & a"),
        ("2+2+3/8", "1/16", "1 2 1 2 1 2 3"),
        ("2/4", "1/5", "1 2"),
    ],
)
def test_a_bar_is_counted_as_players_count_it(meter, grain, words):
    syllables = counted(Meter.parse(meter), Length(grain))
    assert " ".join(word for _, word in syllables) == words
    places = [at.whole_notes for at, _ in syllables]
    assert places == sorted(places)
    assert places[0] == 0
    assert places[-1] < Meter.parse(meter).length.whole_notes


def test_meetings_in_a_stretch_include_its_end():
    assert list(stretch(BAND, DRUM).meetings()) == [Place(0), Place(12)]


def test_turns_too_short_to_be_drawn_are_one_block_that_says_so():
    scene = handout_scene(stretch(BAND, Layer(name="hiss", cycle=Length("1/999999999")), bars=4), FACES)
    assert "turns too short to draw" in [text.text for text in scene.texts]
    assert len(scene.shapes) < 500
