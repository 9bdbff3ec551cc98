"""Cycles and barlines counted in whole steps of one common note, so that all is integers.

This file knows nothing about how the steps are filled.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, islice
from itertools import cycle as cycle_through
from math import lcm

from bridge.craft.fill import as_bits
from bridge.craft.stages import Tighten
from bridge.errors import PlanError
from bridge.exact import Length, Meters

__all__ = ["Grid"]

_MOST_STEPS = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The cycles and barlines counted in whole steps of one common unit."""

    unit: Length
    cycles: tuple[int, ...]
    barlines: tuple[int, ...]
    """The step of every barline, the first being 0."""

    @classmethod
    def over(cls, asked: Tighten, bars: int, meters: Meters, first_bar: int) -> Grid:
        """Count ``bars`` bars and the cycles in their finest common note; PlanError when that is too fine."""
        row = [meters.bar(first_bar + bar).length.whole_notes for bar in range(len(meters.row))]
        cycles = [cycle.whole_notes for cycle in asked.cycles]
        finest = lcm(*(length.denominator for length in (*row, *cycles)))
        passes, rest = divmod(bars, len(row))
        steps = int((passes * sum(row) + sum(row[:rest])) * finest)
        if steps > _MOST_STEPS:
            raise PlanError(
                f"{bars} bars are {steps} steps of 1/{finest}, the grid on which these cycles stand; "
                f"at most {_MOST_STEPS} are counted",
                hint="Take fewer bars, or cycles with smaller denominators.",
            )
        in_steps = cycle_through(int(length * finest) for length in row)
        return cls(
            unit=Length(Fraction(1, finest)),
            cycles=tuple(int(cycle * finest) for cycle in cycles),
            barlines=tuple(accumulate(islice(in_steps, bars), initial=0)),
        )

    @property
    def barline_bits(self) -> int:
        """The barlines as bits."""
        return as_bits(self.barlines)

    @property
    def steps(self) -> int:
        """How many steps the bars have: the last barline."""
        return self.barlines[-1]

    def fits(self, meters: Meters) -> int:
        """Return how many bars a grid as fine as this one can hold, in whole passes through the meters."""
        one_pass = (meters.length / self.unit).value
        return int(_MOST_STEPS // one_pass) * len(meters.row)
