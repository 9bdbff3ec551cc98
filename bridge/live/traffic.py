"""Who sends what, how often, how evenly: counted from the arrivals alone.

Jitter is measured on the second differences of the times, which neither a tempo nor a
slow change of it touches: of jitter s their standard deviation is s·√6; their median is
used, so that a few late ones don't count.  This file knows nothing about transports.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from itertools import pairwise
from math import sqrt
from statistics import median

from bridge.live.inputs import Arrival

__all__ = ["Stream", "Traffic"]

_MOST_STREAMS = 200
_KEPT = 97
_FEWEST = 24
_SILENT = 3.0
_MEDIAN_OF_NORMAL = 0.6745
"""The median of a normal deviate's size, in standard deviations."""
_MIDI = {
    0xF8: "clock",
    0xFA: "start",
    0xFB: "continue",
    0xFC: "stop",
    0xF2: "song position",
    0xF1: "time code",
}


@dataclass(slots=True)
class Stream:
    """What one sender sends under one name."""

    sender: str
    what: str
    count: int = 0
    newest: str = ""
    times: deque[float] = field(default_factory=lambda: deque(maxlen=_KEPT))

    def rate(self, now: float) -> float | None:
        """Return how many came a second lately; None when that cannot be said."""
        if len(self.times) < 2 or now - self.times[-1] > _SILENT:
            return None
        return (len(self.times) - 1) / max(now - self.times[0], 1e-9)

    def jitter(self) -> float | None:
        """Return the standard deviation of the arrivals about an even beat, in seconds.

        None where they have none, or are too few.
        """
        times = list(self.times)
        if len(times) < _FEWEST:
            return None
        bends = [abs(c - 2 * b + a) for a, b, c in zip(times, times[1:], times[2:], strict=False)]
        typical = median(later - earlier for earlier, later in pairwise(times))
        found = median(bends) / _MEDIAN_OF_NORMAL / sqrt(6)
        return found if found < typical / 2 else None


@dataclass(slots=True)
class Traffic:
    """All streams, in order of their first message; beyond a bound they share one."""

    streams: dict[tuple[str, str], Stream] = field(default_factory=dict)

    def take(self, arrival: Arrival) -> None:
        """Count one input."""
        what, newest = _named(arrival)
        key = (arrival.sender, what)
        if key not in self.streams and len(self.streams) >= _MOST_STREAMS:
            key = ("others", "")
        stream = self.streams.setdefault(key, Stream(*key))
        stream.count += 1
        stream.newest = newest
        stream.times.append(arrival.recorded.at)


def _named(arrival: Arrival) -> tuple[str, str]:
    """Return what kind of input it is, and what it says."""
    recorded = arrival.recorded
    if recorded.midi is not None:
        return _MIDI.get(recorded.midi[0], "other MIDI"), recorded.midi[:8].hex(" ").upper()
    if recorded.osc is not None:
        return recorded.osc.address, " ".join(str(arg)[:24] for arg in recorded.osc.args[:4])
    return "unreadable", (recorded.raw or b"")[:8].hex(" ").upper()
