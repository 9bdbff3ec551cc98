"""Whether the host's tempo and meter are the plan's, where the host stands.

A host that keeps markers in seconds has them on their bars at the plan's tempo only.
This file knows nothing about markers.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.exact import Place, Stretch, show_number
from bridge.hostmap import (
    Event,
    HostMap,
    MeterHeard,
    Number,
    PositionHeard,
    Ramps,
    Ruler,
    TempoHeard,
)

__all__ = ["Transport", "difference", "of_time"]

_NOISE = Fraction(1, 10**6)
"""Share of a tempo that arithmetic on 32-bit numbers may take; 0.7 ms in eleven minutes."""
_IN_RAMP = Fraction(1, 1000)
"""Share of a tempo inside a ramp, where place and tempo are never told at one instant."""
_COARSE = Fraction(1, 1000)
"""A tempo told in steps of more than this is compared as it stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Transport:
    """The last that the host told of its transport."""

    tempo: Number | None = None
    meter: MeterHeard | None = None
    position: Number | None = None

    def heard(self, event: Event) -> Transport:
        """Return it with what ``event`` tells."""
        tempo, meter, position = self.tempo, self.meter, self.position
        if isinstance(event, TempoHeard):
            tempo = event.bpm
        elif isinstance(event, MeterHeard):
            meter = event
        elif isinstance(event, PositionHeard):
            position = event.at
        return Transport(tempo=tempo, meter=meter, position=position)

    def complete(self, host: HostMap) -> bool:
        """Whether all that the map can hear has been heard."""
        told = {"tempo": self.tempo, "meter": self.meter, "position": self.position}
        return all(value is not None for key, value in told.items() if key in host.hears)


def of_time(host: HostMap) -> bool:
    """Whether the host is told places in seconds or samples, so that its tempo matters."""
    return any(
        field.unit is not None and field.unit.of_time
        for said in host.says.get("place", ())
        for field in said.fields
    )


def difference(ruler: Ruler, host: HostMap, transport: Transport) -> str | None:
    """Say how the host's tempo or meter differs from the plan's, or None where neither does."""
    places = _places(ruler, host, transport)
    where = f"at its bar {ruler.count.bar_beat(places[0])}"
    known = places[0] >= Place(0) or ruler.song.plan.origin.seconds is None
    tempo, meter = transport.tempo, transport.meter
    if tempo is not None and known and not any(_same(ruler, host, place, tempo) for place in places):
        wanted = show_number(ruler.song.tempo_map.bpm(places[0]))
        return f"{where} the host's tempo is {float(tempo.value):.7g}, the plan's {wanted}"
    if meter is not None:
        found = [ruler.song.bars.bar_at(place).meter for place in places]
        if all((one.top, one.unit) != (meter.top, meter.bottom) for one in found):
            return f"{where} the host's meter is {meter.top}/{meter.bottom}, the plan's {found[0]}"
    return None


def _places(ruler: Ruler, host: HostMap, transport: Transport) -> list[Place]:
    """Return the place the host told, and those within its rounding; the start where it told none."""
    at, heard = transport.position, host.hears.get("position")
    if at is None or heard is None or heard.unit is None:
        return [Place(0)]
    return [ruler.place(at.value + step, heard.unit) for step in (Fraction(0), -at.step, at.step)]


def _same(ruler: Ruler, host: HostMap, place: Place, heard: Number) -> bool:
    stretch = _ramp_at(ruler, place)
    if stretch is not None and host.ramps is Ramps.STEPS:
        low, high = sorted((stretch.tempo.start, stretch.tempo.end))
        return low <= heard.value <= high
    wanted = ruler.song.tempo_map.bpm(place)
    if stretch is not None and host.ramps is Ramps.TIME:
        wanted = _linear_in_time(stretch, place)
    step = heard.step if heard.step <= _COARSE else Fraction(0)
    return abs(heard.value - wanted) <= max(step, wanted * (_NOISE if stretch is None else _IN_RAMP))


def _ramp_at(ruler: Ruler, place: Place) -> Stretch | None:
    for stretch in ruler.song.tempo_map.stretches:
        if stretch.start <= place < stretch.start + stretch.length:
            return None if stretch.tempo.is_constant else stretch
    return None


def _linear_in_time(stretch: Stretch, place: Place) -> Fraction:
    """Return the tempo at ``place`` when the ramp is even in time: its square is even in place."""
    share = ((place - stretch.start) / stretch.length).value
    start, end = stretch.tempo.start, stretch.tempo.end
    return Fraction(float(start * start + (end * end - start * start) * share) ** 0.5)
