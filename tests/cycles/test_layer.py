"""A layer at any place: home, turns, phase."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.cycles import Layer
from bridge.errors import PlanError
from bridge.exact import Length, Ratio

parts = st.fractions(min_value=0, max_value=8, max_denominator=32)
layers = st.builds(
    lambda cycle, start, rate: Layer(name="it", cycle=Length(cycle), start=Length(start), rate=Ratio(rate)),
    parts.filter(bool),
    parts,
    st.sampled_from([Fraction(1), Fraction(73, 72), Fraction(3, 2), Fraction(1, 2)]),
)


@given(layers, parts.map(Length))
def test_turns_and_phase_count_from_the_first_home(layer, at):
    phase = layer.phase(at)
    if at < layer.start:
        assert (layer.turns(at), phase) == (0, None)
        return
    assert phase is not None
    assert 0 <= phase < 1
    assert layer.turns(at) % 1 == phase
    assert layer.start + layer.turn * Ratio(layer.turns(at)) == at
    assert layer.is_home(at) == (phase == 0)


@given(layers, parts.map(Length))
def test_the_next_home_is_a_home_and_none_lies_before_it(layer, at):
    home = layer.home_at_or_after(at)
    assert home >= at
    assert layer.is_home(home)
    assert home == layer.start or home - layer.turn < at


def test_a_first_home_counts_and_before_it_nothing_does():
    layer = Layer(name="shaker", cycle=Length("5/8"), start=Length("7/4"))
    assert layer.is_home(Length("7/4"))
    assert not layer.is_home(Length("9/8"))


def test_a_faster_rate_makes_the_turn_shorter():
    assert Layer(name="it", cycle=Length("3/4"), rate=Ratio("73/72")).turn == Length("54/73")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"cycle": Length(0)}, "cycle of 'it' is more than 0"),
        ({"cycle": Length(-1)}, "cycle of 'it' is more than 0"),
        ({"start": Length(-1)}, "start of 'it' is 0 or more"),
        ({"rate": Ratio(0)}, "rate of 'it' is more than 0"),
    ],
)
def test_an_illegal_layer_does_not_exist(wrong, said):
    with pytest.raises(PlanError, match=said):
        Layer(**{"name": "it", "cycle": Length(1), **wrong})
