"""Places of the plan in the host's units, and back; exact, the plan's origin added.

How fine a unit is at a place, in seconds, is asked on both sides of it, since the tempo
may change there.  This file knows nothing about messages or sockets.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.exact import Length, Place
from bridge.hostmap.template import END, CannotHoldError, Fact, Field
from bridge.hostmap.unit import Measure, Unit
from bridge.song import HostCount, Song

__all__ = ["COLOUR", "Ruler"]

COLOUR = 0x808080
"""Grey: of a section without a colour, and of the End."""
_NEAR = Length(Fraction(1, 2**20))


@dataclass(frozen=True)
class Ruler:
    """Measures the song's places as the host counts them."""

    song: Song

    @property
    def count(self) -> HostCount:
        """The host's count of the song."""
        return HostCount(self.song)

    def value(self, place: Place, unit: Unit) -> Fraction:
        """Return the host's number for ``place`` in ``unit``, unrounded."""
        if unit.measure is Measure.BARS:
            return self.count.bars(place)
        if unit.of_time:
            return self.count.seconds(place) * (unit.rate or 1)
        return self.count.whole_notes(place) * _a_whole_note(unit)

    def place(self, value: Fraction, unit: Unit) -> Place:
        """Return the place of the host's number; exact outside ramps, to 2^-48 of a whole note inside."""
        if unit.measure is Measure.BARS:
            return self.count.place_of_bars(value)
        if unit.of_time:
            return self.count.place_of_seconds(value / (unit.rate or 1))
        return self.count.place_of_whole_notes(value / _a_whole_note(unit))

    def seconds(self, value: Fraction, unit: Unit) -> Fraction:
        """Return the host's seconds at its number ``value``."""
        if unit.of_time:
            return value / (unit.rate or 1)
        return self.count.seconds(self.place(value, unit))

    def units_a_second(self, place: Place, unit: Unit) -> tuple[Fraction, Fraction]:
        """Return how many units pass in a second just before and after ``place``, the fewer first."""
        if unit.of_time:
            rate = Fraction(unit.rate or 1)
            return rate, rate
        low, high = sorted(self._slope(start, unit) for start in (place - _NEAR, place))
        return low, high

    def _slope(self, start: Place, unit: Unit) -> Fraction:
        end = start + _NEAR
        seconds = self.song.seconds(end) - self.song.seconds(start)
        units = self.value(end, unit) - self.value(start, unit)
        return units / seconds

    def colour(self, place: Place) -> int:
        """Return the colour of the section there as 0xRRGGBB; grey where the plan names none."""
        placed = self.song.section_at(place)
        named = None if placed is None else placed.section.colour
        return COLOUR if named is None else named

    def fact(self, place: Place, field: Field) -> Fact:
        """Return what a field about a place holds at ``place``; KeyError for fields about markers."""
        if field.name.startswith(END):
            raise CannotHoldError(f"'{field.name}' is about the end of a region or a ramp: this has none")
        if field.unit is not None:
            return self.value(place, field.unit)
        bar = self.song.bars.bar_at(place)
        if field.name == "bar":
            return self.count.bar_beat(place).bar
        if field.name == "beat":
            return 1 + ((place - bar.start) / bar.meter.beat).value
        if field.name in ("bpm", "bpm_end"):
            return self.song.tempo_map.bpm(place)
        if field.name == "colour":
            colour = self.colour(place)
            return colour if field.type != "s" else f"#{colour:06x}"
        return {"meter_top": bar.meter.top, "meter_bottom": bar.meter.unit}[field.name]


def _a_whole_note(unit: Unit) -> int:
    if unit.measure is Measure.WHOLE_NOTES:
        return 1
    return 4 * (unit.rate if unit.measure is Measure.TICKS else 1)
