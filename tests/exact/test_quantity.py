"""Lengths, places and ratios: the laws of their algebra, and what it refuses."""

from __future__ import annotations

import copy
import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.exact import Length, Place, Ratio

rationals = st.fractions(min_value=-1000, max_value=1000, max_denominator=192)
lengths = rationals.map(Length)
places = rationals.map(Place)
KINDS = (Length, Place, Ratio)


@given(places, lengths)
def test_going_there_and_back_is_where_one_started(place, length):
    assert (place + length) - length == place
    assert (place + length) - place == length


@given(lengths, lengths.filter(bool))
def test_a_length_is_so_many_times_another_and_a_rest(length, unit):
    assert unit * (length // unit) + length % unit == length
    assert unit * (length / unit) == length


@given(rationals, rationals)
def test_equal_values_hash_equally_and_kinds_never_mix(one, other):
    for kind in KINDS:
        assert (kind(one) == kind(other)) == (one == other)
        assert hash(kind(one)) == hash(kind(Fraction(one.numerator * 7, one.denominator * 7)))
        assert (kind(one) < kind(other)) == (one < other)
        assert (kind(one) >= kind(other)) == (one >= other)
    assert len({kind(one) for kind in KINDS}) == 3
    assert Length(one) != Place(one)
    assert Length(one) != one


@given(rationals)
def test_copies_and_pickles_are_equal_and_the_repr_reads_back(value):
    for kind in KINDS:
        it = kind(value)
        assert pickle.loads(pickle.dumps(it)) == it
        assert copy.deepcopy(it) == it
        assert eval(repr(it)) == it


@pytest.mark.parametrize(
    "nonsense",
    [
        lambda: Place(1) + Place(2),
        lambda: Place(1) * 2,
        lambda: Length(1) + 1,
        lambda: 1 + Length(1),
        lambda: Length(1) + Place(1),
        lambda: Length(1) - Place(1),
        lambda: Length(1) * Length(1),
        lambda: Length(1) * Fraction(1, 2),
        lambda: Length(1) * True,
        lambda: Length(1) * 1.5,
        lambda: Length(1) / 0.5,
        lambda: 2 / Length(1),
        lambda: Length(1) + Ratio(1),
        lambda: Ratio(1) * 0.5,
        lambda: Length(1) < Place(2),
        lambda: Length(1) < 2,
        lambda: Place(1) >= Ratio(1),
        lambda: Length(1) // 2,
        lambda: Length(1) % 2,
        lambda: sum([Length(1), Length(2)]),
        lambda: float(Length(1)),
    ],
)
def test_nonsense_is_a_type_error(nonsense):
    with pytest.raises(TypeError):
        nonsense()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("value", [0.5, True, None, 1j, b"1"])
def test_a_float_and_its_like_are_refused_at_the_door(kind, value):
    with pytest.raises(TypeError, match="exact number"):
        kind(value)


@pytest.mark.parametrize("kind", KINDS)
def test_a_value_cannot_be_changed(kind):
    it = kind(1)
    with pytest.raises(AttributeError):
        it._value = Fraction(2)
    with pytest.raises(AttributeError):
        it.other = 1


def test_quarters_are_four_to_the_whole_note():
    assert Length("3/16").quarters == Fraction(3, 4)
    assert Place("115.2").quarters == Fraction(2304, 5)
    assert Place(3).since_start == Length(3)
    assert abs(-Length(2)) == Length(2)
    assert not Length(0)
