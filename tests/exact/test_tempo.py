"""Tempi: constant, ramps, named beats, modulation."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bridge.errors import PlanError
from bridge.exact import Length, Tempo


@pytest.mark.parametrize("bpm", ["0", "0.999999", "1000.000001", "999999999999"])
def test_a_tempo_lies_between_1_and_1000_quarters(bpm):
    with pytest.raises(PlanError, match="1 to 1000 quarter notes a minute"):
        Tempo.constant(bpm)


def test_a_float_tempo_is_refused():
    with pytest.raises(TypeError, match="exact number"):
        Tempo(115.2, 115.2)
    with pytest.raises(TypeError, match="exact number"):
        Tempo.constant(115.2)


def test_a_named_beat_is_counted_in_quarters():
    assert Tempo.constant(Fraction(80), beat=Length("3/8")) == Tempo.constant(Fraction(120))
    assert Tempo.constant(Fraction(30), beat=Length(1)) == Tempo.constant(Fraction(120))


@pytest.mark.parametrize("beat", [0, Fraction(-1, 4)])
def test_a_beat_of_nothing_is_refused_not_taken_for_a_quarter(beat):
    with pytest.raises(PlanError, match="longer than 0"):
        Tempo.constant(Fraction(80), beat=Length(beat))
    with pytest.raises(PlanError, match="longer than 0"):
        Tempo.constant(Fraction(80)).pivot(Length("1/4"), Length(beat))
    with pytest.raises(PlanError, match="longer than 0"):
        Tempo.constant(Fraction(80)).pivot(Length(beat), Length("1/4"))


def test_a_modulation_starts_from_where_a_ramp_ends():
    ramp = Tempo.ramp(Fraction(96), Fraction("115.2"))
    assert ramp.pivot(Length("3/16"), Length("1/4")) == Tempo.constant(Fraction("153.6"))


def test_a_ramp_is_linear_in_musical_position():
    ramp = Tempo.ramp(Fraction(96), Fraction(132))
    assert ramp.at(Fraction(1, 3)) == 108
    assert not ramp.is_constant
    assert str(ramp) == "96 to 132"
    assert Tempo.ramp(Fraction(96), Fraction(96)).is_constant
