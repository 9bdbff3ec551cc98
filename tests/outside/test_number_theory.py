"""Periods, offsets and cross-rhythms against published and computed values, and sympy on random ones."""

from __future__ import annotations

import math
import random
from fractions import Fraction

import pytest

from bridge.cycles import Layer, divisor, meetings, never, period
from bridge.cycles.row import Row
from bridge.exact import Length, Tempo
from tests import oracle


def layers(*cycles: str) -> list[Layer]:
    return [Layer(name=f"{index}", cycle=Length(cycle)) for index, cycle in enumerate(cycles)]


# Computed with math.lcm and math.gcd: a ratio's lcm is lcm(tops)/gcd(bottoms) in lowest terms
# (Knuth, The Art of Computer Programming 2, 4.5.2, exercises; from memory).
@pytest.mark.parametrize(
    ("cycles", "whole"),
    [(("3/4", "5/8"), "15/4"), (("1/3", "1/4"), "1"), (("7/8", "5/16", "3/4"), "105/4")],
)
def test_the_period_of_cycles(cycles, whole):
    assert period(layers(*cycles)) == Length(whole)


# Computed with math.lcm.
@pytest.mark.parametrize(
    ("pulses", "together"),
    [((3, 4), 12), ((5, 7), 35), ((5, 7, 8), 280), ((4, 5, 6, 7), 420)],
)
def test_pulses_in_one_span_need_a_grid_of_their_least_common_multiple(pulses, together):
    turns = layers(*(f"1/{count}" for count in pulses))
    assert Length(1) / divisor([one.turn for one in turns]) == Length(1) / Length(Fraction(1, together))
    assert math.lcm(*pulses) == together


# The classical case: Sunzi suanjing, chapter 3, problem 26 (from memory); 11 mod 12 and
# 'never' computed with sympy.ntheory.modular.solve_congruence.
@pytest.mark.parametrize(
    ("congruences", "answer"),
    [
        ([(2, 3), (3, 5), (2, 7)], (23, 105)),
        ([(3, 4), (5, 6)], (11, 12)),
        ([(1, 4), (2, 6)], None),
    ],
)
def test_offsets(congruences, answer):
    found = [Layer(name=f"{m}", cycle=Length(m), start=Length(a)) for a, m in congruences]
    row = meetings(found)
    if answer is None:
        assert row is None
        assert never(found) is not None
    else:
        assert row is not None
        assert (row.first, row.every) == (Length(answer[0]), Length(answer[1]))


def test_random_offsets_agree_with_sympy():
    solve = oracle("sympy.ntheory.modular").solve_congruence
    chance = random.Random(20240607)
    for _ in range(300):
        pairs = [(chance.randrange(60), chance.randrange(1, 60)) for _ in range(chance.randrange(2, 5))]
        expected = solve(*((a % m, m) for a, m in pairs))
        row: Row | None = Row(pairs[0][0], pairs[0][1])
        for a, m in pairs[1:]:
            row = row.met(Row(a, m)) if row else None
        if expected is None:
            assert row is None, pairs
        else:
            assert row is not None, pairs
            remainder, modulus = map(int, expected)
            assert (row.first % modulus, row.step) == (remainder, modulus)
            latest = max(a for a, _ in pairs)
            assert latest <= row.first < latest + modulus


# m in the time of n has m + n - gcd(m, n) onsets: inclusion and exclusion.  Positions
# computed on the grid of lcm(m, n), as in checks of cross-rhythms (C).
@pytest.mark.parametrize(
    ("m", "n", "grid", "onsets"),
    [
        (3, 2, 6, [0, 2, 3, 4]),
        (4, 3, 12, [0, 3, 4, 6, 8, 9]),
        (5, 4, 20, [0, 4, 5, 8, 10, 12, 15, 16]),
    ],
)
def test_the_onsets_of_m_in_the_time_of_n(m, n, grid, onsets):
    both = layers(f"1/{m}", f"1/{n}")
    found = [k for k in range(grid) if any(one.is_home(Length(Fraction(k, grid))) for one in both)]
    assert found == onsets
    assert len(found) == m + n - math.gcd(m, n)


# New tempo over old = pivots in the old beat over pivots in the new: computed with music21's
# MetricModulation from quarter = 120.
@pytest.mark.parametrize(
    ("pivot", "becomes", "bpm"),
    [("1/12", "1/8", 180), ("3/16", "1/4", 160), ("3/8", "1/4", 80)],
)
def test_metric_modulation(pivot, becomes, bpm):
    assert Tempo.constant(Fraction(120)).pivot(Length(pivot), Length(becomes)) == Tempo.constant(
        Fraction(bpm)
    )
