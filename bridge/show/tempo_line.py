"""Where a pass stands in time: from places in it to seconds on the steady clock, and back.

A line goes through one known instant at so many times the plan's own speed.  This file
knows nothing about where the knowledge comes from.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from bridge.cues import Axis
from bridge.exact import Length

__all__ = ["TempoLine", "of_quarters"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TempoLine:
    """The pass stands at ``into`` at ``at`` seconds, and goes on at ``rate`` times the plan's tempo."""

    axis: Axis
    at: float
    into: Length
    rate: float = 1.0
    _seconds: Fraction = field(init=False, repr=False, compare=False)
    _float: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_seconds", self.axis.seconds(self.into))
        object.__setattr__(self, "_float", float(self._seconds))

    def due(self, into: Length) -> float:
        """Return when the show comes to ``into``."""
        return self.at + float(self.axis.seconds(into) - self._seconds) / self.rate

    def due_at(self, seconds: float) -> float:
        """Return when the show comes to where it would be ``seconds`` after the section's start."""
        return self.at + (seconds - self._float) / self.rate

    def into_at(self, at: float) -> Length:
        """Return where it stands at ``at`` seconds."""
        return self.axis.at(self._seconds + Fraction((at - self.at) * self.rate))

    def quarters_at(self, at: float) -> float:
        """Return the quarter notes from the section's start at ``at`` seconds."""
        return float(self.into_at(at).quarters)


def of_quarters(quarters: float) -> Length:
    """Return so many measured quarter notes as a length, to a millionth of one."""
    return Length(Fraction(round(quarters * 2**20), 2**22))
