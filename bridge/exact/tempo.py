"""A section's tempo: constant, or a ramp that is linear in musical position.

Unit: quarter notes a minute, exact.  Turning tempi into seconds is the business
of :mod:`bridge.exact.convert` alone; this file knows nothing about seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact.number import show_number
from bridge.exact.quantity import Length

__all__ = ["FASTEST", "SLOWEST", "Tempo"]

SLOWEST = Fraction(1)
FASTEST = Fraction(1000)
_QUARTER = Fraction(1, 4)


@dataclass(frozen=True, slots=True)
class Tempo:
    """Quarter notes a minute at a section's start and at its end, 1 to 1000 each."""

    start: Fraction
    end: Fraction

    def __post_init__(self) -> None:
        for bpm in (self.start, self.end):
            if not SLOWEST <= bpm <= FASTEST:
                raise PlanError(
                    f"a tempo is {SLOWEST} to {FASTEST} quarter notes a minute, not {show_number(bpm)}"
                )

    @classmethod
    def constant(cls, bpm: Fraction, *, beat: Length | None = None) -> Tempo:
        """Make a tempo of ``bpm`` beats a minute; the beat is the quarter unless named."""
        return cls.ramp(bpm, bpm, beat=beat)

    @classmethod
    def ramp(cls, start: Fraction, end: Fraction, *, beat: Length | None = None) -> Tempo:
        """Make a ramp from ``start`` to ``end`` beats a minute, linear in musical position."""
        quarters = (beat.whole_notes if beat else _QUARTER) / _QUARTER
        return cls(start * quarters, end * quarters)

    def pivot(self, old: Length, new: Length) -> Tempo:
        """Modulate: the ``old`` note at this tempo's end becomes the ``new`` one.

        115.2 with pivot 3/16, becomes 1/4 is 153.6.
        """
        return Tempo.constant(self.end * new.whole_notes / old.whole_notes)

    @property
    def is_constant(self) -> bool:
        """Whether it starts and ends alike."""
        return self.start == self.end

    def at(self, share: Fraction) -> Fraction:
        """Return the quarter notes a minute at ``share`` (0 to 1) of the way through the section."""
        return self.start + (self.end - self.start) * share

    def __str__(self) -> str:
        if self.is_constant:
            return show_number(self.start)
        return f"{show_number(self.start)} to {show_number(self.end)}"
