"""Pairings: what each combination of layers is like, counted against walking step by step."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.craft.groove import as_layer
from bridge.craft.pairing import composite, pairings
from bridge.craft.pattern import Pattern
from bridge.cycles import Layer
from bridge.errors import PlanError
from bridge.exact import Length, Ratio

BAND = Layer(name="band", cycle=Length(4))
DRUM = Layer(name="hand drum", cycle=Length("3/16"))
BELLS = Layer(name="bells", cycle=Length(1), accents=tuple(Length(x) for x in ("0", "3/8", "6/8")))


def test_a_band_and_a_drum_meet_every_twelve_bars():
    # Common practice, no source: 3/16 against four bars of 4/4.
    (found,) = pairings([BAND, DRUM])
    assert found.names == ("band", "hand drum")
    assert (found.period, found.first_meeting) == (Length(12), Length(0))
    assert (found.meetings, found.onsets, found.shared) == (1, 66, 1)
    assert found.density == Fraction(66, 12)


def test_three_layers_have_three_pairs_and_one_trio():
    found = pairings([BAND, DRUM, BELLS], sizes=(2, 3))
    assert [one.names for one in found] == [
        ("band", "hand drum"),
        ("band", "bells"),
        ("hand drum", "bells"),
        ("band", "hand drum", "bells"),
    ]
    # Every 3 bars drum and bells are home together, every 4 bars band and bells: at 0 3 4 6 8 9.
    assert found[-1].meetings == 6


def test_layers_that_never_meet_still_repeat():
    late = Layer(name="late", cycle=Length("1/4"), start=Length("1/8"))
    (found,) = pairings([Layer(name="early", cycle=Length("1/4")), late])
    assert found.first_meeting is None
    assert (found.period, found.meetings, found.shared, found.onsets) == (Length("1/4"), 0, 0, 2)


def test_a_rate_moves_the_accents_too():
    quick = Layer(name="quick", cycle=Length(1), rate=Ratio(2), accents=(Length(0), Length("1/2")))
    assert [one.at for one in composite([quick], until=Length(1))] == [
        Length(x) for x in ("0", "1/4", "1/2", "3/4")
    ]


def test_pairings_that_are_none_are_refused():
    with pytest.raises(PlanError, match="cannot be made of 2 layers"):
        pairings([BAND, DRUM], sizes=(3,))


def test_a_period_too_long_to_count_is_refused():
    slow = Layer(name="slow", cycle=Length("9973/16"))
    quick = Layer(name="quick", cycle=Length("9967/9949"))
    with pytest.raises(PlanError, match="at most 1000000 are counted"):
        pairings([slow, quick])


def test_more_pairings_than_can_be_listed_are_refused():
    many = [Layer(name=str(number), cycle=Length(1)) for number in range(64)]
    with pytest.raises(PlanError, match="at most 4096 are listed"):
        pairings(many, sizes=(32,))


patterns = st.lists(st.booleans(), min_size=1, max_size=6).filter(any)


@st.composite
def sixteenth_layers(draw, name: str) -> tuple[Layer, list[bool], int]:
    """A layer on a grid of sixteenths, with its steps and its start in steps."""
    steps = draw(patterns)
    start = draw(st.integers(0, 8))
    accents = tuple(Length(Fraction(step, 16)) for step, hit in enumerate(steps) if hit)
    layer = Layer(
        name=name,
        cycle=Length(Fraction(len(steps), 16)),
        start=Length(Fraction(start, 16)),
        accents=accents,
    )
    return layer, steps, start


@settings(max_examples=60, deadline=None)
@given(st.tuples(*(sixteenth_layers(name) for name in ("one", "two", "three"))))
def test_counting_agrees_with_walking_the_grid(made):
    layers = [layer for layer, _, _ in made]
    (found,) = pairings(layers, sizes=(3,))
    entered = max(start for _, _, start in made)
    length = int(found.period.whole_notes * 16)

    def sounding(step: int) -> int:
        return sum(steps[(step - start) % len(steps)] for _, steps, start in made)

    def home(step: int) -> int:
        return sum((step - start) % len(steps) == 0 for _, steps, start in made)

    span = range(entered, entered + length)
    assert found.onsets == sum(sounding(step) > 0 for step in span)
    assert found.shared == sum(sounding(step) > 1 for step in span)
    assert found.meetings == sum(home(step) > 1 for step in span)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 12), min_size=2, max_size=5, unique=True))
def test_there_are_as_many_pairs_as_the_binomial_says(tops):
    layers = [Layer(name=str(top), cycle=Length(Fraction(top, 16))) for top in tops]
    assert len(pairings(layers)) == comb(len(tops), 2)


@given(patterns.map(lambda hits: Pattern(tuple(map(int, hits)))), st.integers(0, 5))
def test_a_pattern_against_itself_shares_what_the_composite_says(pattern, shift):
    unit = Length("1/16")
    one = as_layer("one", pattern, unit=unit)
    two = replace(as_layer("two", pattern, unit=unit), start=unit * shift)
    (found,) = pairings([one, two])
    assert found.shared == pattern.shared(pattern, shift=shift)
