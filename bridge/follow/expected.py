"""The tempi that a plan expects, tick by tick, as a prior for the clock's grid.

Plain floats from the exact tempo map, since they only say what is likely; ramps are
linear in musical position, as everywhere.  Places in ticks of the host, seconds from its
place 0.  This file does not know what the host really does.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from math import expm1, inf, log

from bridge.exact import Length, TempoMap

__all__ = ["Expected"]

_TICKS_A_WHOLE_NOTE = 96
_STEADY = 1e-9
_NEAR = 4
"""Ticks: no more than this are skipped without being called a silence."""


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Ticks from ``start`` on, at ``period`` seconds a tick; ``bend`` is the tempo's relative rise a tick."""

    start: float
    seconds: float
    period: float
    bend: float

    def seconds_at(self, tick: float) -> float:
        into = tick - self.start
        if abs(self.bend) < _STEADY:
            return self.seconds + into * self.period
        return self.seconds + self.period / self.bend * log(1 + self.bend * into)

    def tick_at(self, seconds: float) -> float:
        into = (seconds - self.seconds) / self.period
        if abs(self.bend) < _STEADY:
            return self.start + into
        return self.start + expm1(self.bend * into) / self.bend


@dataclass(frozen=True, slots=True)
class Expected:
    """Seconds and ticks of the plan's tempi, in the host's count."""

    stretches: tuple[_Stretch, ...]
    _starts: tuple[float, ...] = field(init=False, repr=False)
    _seconds: tuple[float, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_starts", tuple(stretch.start for stretch in self.stretches))
        object.__setattr__(self, "_seconds", tuple(stretch.seconds for stretch in self.stretches))

    @classmethod
    def of(cls, tempo_map: TempoMap, lead_in: Length) -> Expected:
        """Take the tempi of ``tempo_map``, whose place 0 is ``lead_in`` after the host's."""
        first = tempo_map.stretches[0]
        period = 2.5 / float(first.tempo.start)
        before = float((first.start.since_start + lead_in).whole_notes) * _TICKS_A_WHOLE_NOTE
        found = [_Stretch(0.0, 0.0, period, 0.0)]
        tick, seconds = before, before * period
        for stretch in tempo_map.stretches:
            ticks = float(stretch.length.whole_notes) * _TICKS_A_WHOLE_NOTE
            start, end = float(stretch.tempo.start), float(stretch.tempo.end)
            found.append(_Stretch(tick, seconds, 2.5 / start, (end / start - 1) / ticks))
            tick, seconds = tick + ticks, found[-1].seconds_at(tick + ticks)
        found.append(_Stretch(tick, seconds, 2.5 / float(tempo_map.stretches[-1].tempo.end), 0.0))
        return cls(tuple(found))

    def seconds(self, tick: float) -> float:
        """Return the plan's seconds at ``tick``."""
        return self.stretches[max(bisect_right(self._starts, tick) - 1, 0)].seconds_at(tick)

    def tick(self, seconds: float) -> float:
        """Return the place at the plan's ``seconds``."""
        return self.stretches[max(bisect_right(self._seconds, seconds) - 1, 0)].tick_at(seconds)

    def period(self, tick: int, ticks: int = 1) -> float:
        """Return the seconds a tick takes, on average over the ``ticks`` that lead up to ``tick``."""
        return (self.seconds(tick) - self.seconds(tick - ticks)) / ticks

    def is_steady(self, tick: int, ticks: int = _NEAR) -> bool:
        """Tell whether one tempo holds from the tick before ``tick`` to ``ticks`` after it."""
        index = max(bisect_right(self._starts, tick - 1) - 1, 0)
        ends = self._starts[index + 1] if index + 1 < len(self._starts) else inf
        return abs(self.stretches[index].bend) < _STEADY and tick + ticks <= ends

    def turns_at(self, tick: int) -> bool:
        """Tell whether the tempo after ``tick`` is another than before it."""
        if self.is_steady(tick):
            return False
        return abs(self.period(tick + 1) / self.period(tick) - 1) > _STEADY
