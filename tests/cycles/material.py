"""Layers and meters for the tests of this folder: random ones, and short ways to write one."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from bridge.cycles import Layer
from bridge.exact import Length, Meter, Meters, Ratio

TURNS = [Fraction(n, d) for n in range(1, 8) for d in (1, 2, 3, 4, 8, 16)]
STARTS = [Fraction(n, 16) for n in range(20)] + [Fraction(1, 3), Fraction(5, 6)]
RATES = [Fraction(1)] * 6 + [Fraction(5, 4), Fraction(9, 8)]


def layer(name: str, cycle: str | int, start: str | int = 0, rate: str | int = 1) -> Layer:
    return Layer(name=name, cycle=Length(cycle), start=Length(start), rate=Ratio(rate))


def some_layers(least: int = 1, most: int = 3, starts=STARTS):
    one = st.tuples(st.sampled_from(TURNS), st.sampled_from(starts), st.sampled_from(RATES))
    return st.lists(one, min_size=least, max_size=most).map(
        lambda found: tuple(
            Layer(name=f"layer {index}", cycle=Length(cycle), start=Length(start), rate=Ratio(rate))
            for index, (cycle, start, rate) in enumerate(found)
        )
    )


METERS = st.lists(
    st.builds(Meter, st.tuples(st.integers(1, 7)), st.sampled_from([2, 4, 8])), min_size=1, max_size=4
).map(lambda row: Meters(tuple(row)))
