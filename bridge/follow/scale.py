"""From a host's own numbers to quarter notes: with a plan exactly, without one as well as can be.

Places are the host's, in quarters from its beginning.  A plan's tempo map turns seconds
into places; without a plan the host's tempo and meter are taken to have held from the
start, which is all that can be known.  This file does not know how numbers arrive.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol

from bridge.exact import Place
from bridge.hostmap import Measure, Ruler, Unit

__all__ = ["PlainScale", "PlanScale", "Scale", "SetScale"]

_QUARTERS = Unit(Measure.QUARTERS)


class Scale(Protocol):
    """What sources ask."""

    def quarters(self, value: float, unit: Unit) -> float:
        """Return the place, in the host's quarters, of its number ``value``."""

    @property
    def knows_time(self) -> bool:
        """Whether places told in time (seconds, samples, time code) can be trusted in quarters."""

    def bpm(self, quarters: float, /) -> float | None:
        """Return the plan's quarters a minute at a place; None without a plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainScale:
    """No plan: one tempo and one meter from the start."""

    tempo_bpm: float = 120.0
    bar: float = 4.0
    knows_time: bool = False
    """Whether the host has named its tempo."""

    def at_tempo(self, bpm: float) -> PlainScale:
        """Return the scale of a host that names this tempo."""
        return replace(self, tempo_bpm=bpm, knows_time=True)

    def in_meter(self, top: int, bottom: int) -> PlainScale:
        """Return the scale of a host that names this meter."""
        return replace(self, bar=4.0 * top / bottom)

    def quarters(self, value: float, unit: Unit) -> float:
        """Return the place of the host's number ``value``; bars count from 1."""
        match unit.measure:
            case Measure.SECONDS | Measure.SAMPLES:
                return value / (unit.rate or 1) * self.tempo_bpm / 60
            case Measure.TICKS:
                return value / unit.rate
            case Measure.WHOLE_NOTES:
                return value * 4
            case Measure.BARS:
                return (value - 1) * self.bar
            case _:
                return value

    def bpm(self, _: float, /) -> float | None:
        """Return None: no plan says anything of tempi."""
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanScale:
    """A plan: its tempo map, its meters, its origin in the host."""

    ruler: Ruler

    def quarters(self, value: float, unit: Unit) -> float:
        """Return the place of the host's number ``value``, in the host's quarters."""
        if unit.measure is Measure.QUARTERS:
            return value
        return float(self.ruler.value(self.ruler.place(Fraction(value), unit), _QUARTERS))

    @property
    def knows_time(self) -> bool:
        """Yes: the plan has a tempo map."""
        return True

    def bpm(self, quarters: float, /) -> float | None:
        """Return the plan's quarters a minute at a place of the host."""
        place = self.ruler.place(Fraction(quarters), _QUARTERS)
        return float(self.ruler.song.tempo_map.bpm(place))


@dataclass(frozen=True, slots=True)
class SetScale:
    """The plans of a set in one timeline, in the order of their origins: each counts from where it begins."""

    rulers: tuple[Ruler, ...]

    def quarters(self, value: float, unit: Unit) -> float:
        """Return the place of the host's number ``value``, in the host's quarters."""
        return PlanScale(ruler=self._at(Fraction(value), unit)).quarters(value, unit)

    @property
    def knows_time(self) -> bool:
        """Yes: each plan has a tempo map."""
        return True

    def bpm(self, quarters: float, /) -> float | None:
        """Return the quarters a minute that are planned at a place of the host."""
        return PlanScale(ruler=self._at(Fraction(quarters), _QUARTERS)).bpm(quarters)

    def _at(self, value: Fraction, unit: Unit) -> Ruler:
        """Return the ruler of the song that has begun there last; before all, of the first."""
        begun = [ruler for ruler in self.rulers if ruler.value(Place(0), unit) <= value]
        return begun[-1] if begun else self.rulers[0]
