"""A section's tempo: constant, or a ramp that is linear in musical position.

Unit: quarter notes a minute, exact.  Turning tempi into seconds is the business
of :mod:`bridge.exact.convert` alone; this file knows nothing about seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact.number import exact, show_number
from bridge.exact.quantity import Length

__all__ = ["FASTEST", "SLOWEST", "Tempo"]

SLOWEST = Fraction(1)
FASTEST = Fraction(1000)
_QUARTER = Fraction(1, 4)


@dataclass(frozen=True, slots=True)
class Tempo:
    """Quarter notes a minute at a section's start and at its end, 1 to 1000 each.

    A float is refused with TypeError.
    """

    start: Fraction
    end: Fraction

    def __post_init__(self) -> None:
        for name in ("start", "end"):
            bpm = exact(getattr(self, name))
            object.__setattr__(self, name, bpm)
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
        quarters = (_QUARTER if beat is None else _note(beat, "the beat of a tempo")) / _QUARTER
        return cls(exact(start) * quarters, exact(end) * quarters)

    def pivot(self, old: Length, new: Length) -> Tempo:
        """Modulate: the ``old`` note at this tempo's end becomes the ``new`` one.

        115.2 with pivot 3/16, becomes 1/4 is 153.6.  PlanError where either note is 0.
        """
        return Tempo.constant(self.end * _note(new, "the new note") / _note(old, "the pivot"))

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


def _note(length: Length, what: str) -> Fraction:
    if length <= Length(0):
        raise PlanError(f"{what} is a note longer than 0, not {length}", hint="Write it as 1/4 or 3/8.")
    return length.whole_notes
