"""A layer: a part that repeats, with an exact cycle, a start offset and a rate.

This file knows nothing about bars: a cycle written in bars has been turned into
whole notes by the time a Layer exists.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import Length, Ratio

__all__ = ["Kind", "Layer"]

_NOTHING = Length(0)
_AS_WRITTEN = Ratio(1)


class Kind(StrEnum):
    """How a layer's cycle was given; it decides what its relation to others is called."""

    CYCLE = "cycle"
    GROUPS = "groups"
    PULSES = "pulses"
    PATTERN = "pattern"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A repeating part.

    ``cycle`` is its length as written and ``turn`` the length it takes to play, which
    is shorter at a ``rate`` above 1.  It is first home at ``start`` after it enters and
    then once every turn.  ``accents`` are offsets within the written cycle, from 0.
    """

    name: str
    cycle: Length
    start: Length = _NOTHING
    rate: Ratio = _AS_WRITTEN
    kind: Kind = Kind.CYCLE
    accents: tuple[Length, ...] = (_NOTHING,)
    turn: Length = field(init=False, repr=False, compare=False)
    """One pass through the cycle as played: the cycle over the rate."""

    def __post_init__(self) -> None:
        if self.cycle <= _NOTHING:
            raise PlanError(f"the cycle of {self.name!r} is more than 0, not {self.cycle}")
        if self.start < _NOTHING:
            raise PlanError(f"the start of {self.name!r} is 0 or more, not {self.start}")
        if self.rate <= Ratio(0):
            raise PlanError(f"the rate of {self.name!r} is more than 0, not {self.rate}")
        turn = self.cycle if self.rate == _AS_WRITTEN else self.cycle / self.rate
        object.__setattr__(self, "turn", turn)

    def is_home(self, since_entry: Length) -> bool:
        """Tell whether a cycle begins ``since_entry`` after the layer entered; a first home counts."""
        return since_entry >= self.start and not (since_entry - self.start) % self.turn

    def home_at_or_after(self, since_entry: Length) -> Length:
        """Return its first home that is ``since_entry`` or later."""
        if since_entry <= self.start:
            return self.start
        return self.start + self.turn * -((self.start - since_entry) // self.turn)

    def turns(self, since_entry: Length) -> Fraction:
        """Count how many turns have passed since the first home; 0 before it."""
        if since_entry <= self.start:
            return Fraction(0)
        return ((since_entry - self.start) / self.turn).value

    def phase(self, since_entry: Length) -> Fraction | None:
        """Return where in its cycle it stands, 0 up to but not including 1; None before its first home."""
        if since_entry < self.start:
            return None
        return ((since_entry - self.start) / self.turn).value % 1
