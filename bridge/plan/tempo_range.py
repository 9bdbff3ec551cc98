"""A wished range of tempi for the whole song, on a grid of tenths.

This file knows nothing about sections.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import FASTEST, SLOWEST, show_number

__all__ = ["STEP", "WIDEST", "TempoRange"]

STEP = Fraction(1, 10)
"""Quarter notes a minute from one tempo that is tried to the next."""
WIDEST = 40
"""Quarter notes a minute: a wider range is no wish, and takes long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TempoRange:
    """From ``low`` to ``high`` quarter notes a minute, both included."""

    low: Fraction
    high: Fraction

    def __post_init__(self) -> None:
        if not SLOWEST <= self.low <= self.high <= FASTEST:
            raise PlanError(
                f"a tempo range goes from a lower to a higher tempo, {SLOWEST} to {FASTEST}, not {self}",
                hint="Write it as 'tempo: {between: [108, 118]}'.",
            )
        if self.high - self.low > WIDEST:
            raise PlanError(
                f"a tempo range is at most {WIDEST} quarter notes a minute wide, not {self}",
                hint="Decide roughly how fast the song is, and narrow it.",
            )
        if not self.grid:
            raise PlanError(
                f"no tempo with one decimal lies in the range {self}", hint="Write a single tempo instead."
            )

    @property
    def grid(self) -> tuple[Fraction, ...]:
        """The tempi with one decimal that lie in it, rising."""
        first, last = -(-self.low // STEP), self.high // STEP
        return tuple(STEP * number for number in range(int(first), int(last) + 1))

    def __str__(self) -> str:
        return f"{show_number(self.low)} to {show_number(self.high)}"
