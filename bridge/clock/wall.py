"""The time of day beside the steady clock: what a time tag needs, and a clock set anew noticed.

The steady clock has no date, and the time of day can be set.  Their distance is measured
often; where it leaps, somebody (or a network's time server) has set the clock.  A slow
drift is followed without a word.  This file knows nothing about OSC.
"""

from __future__ import annotations

import time
from collections.abc import Callable

__all__ = ["WallClock"]

_TRIES = 5
_LEAP = 0.02
"""Seconds between two measurements that are no drift: slewing moves a clock 0.5 ms a second."""


class WallClock:
    """Seconds since 1970 at any time of the steady clock, by the last :meth:`measure`."""

    __slots__ = ("_offset", "_steady", "_wall")

    def __init__(
        self, *, steady: Callable[[], float] = time.monotonic, wall: Callable[[], float] = time.time
    ) -> None:
        self._steady = steady
        self._wall = wall
        self._offset = self._measured()

    def at(self, steady: float) -> float:
        """Return the seconds since 1970 at ``steady`` seconds of the steady clock."""
        return steady + self._offset

    def steady(self, wall: float) -> float:
        """Return the seconds of the steady clock at ``wall`` seconds since 1970."""
        return wall - self._offset

    def measure(self) -> float:
        """Measure anew; return by how many seconds the time of day leapt, 0 where it did not."""
        before, self._offset = self._offset, self._measured()
        leapt = self._offset - before
        return leapt if abs(leapt) > _LEAP else 0.0

    def _measured(self) -> float:
        """Return the distance by the quickest of a few readings: nothing held us up between its two."""
        found = []
        for _ in range(_TRIES):
            before = self._steady()
            wall = self._wall()
            after = self._steady()
            found.append((after - before, wall - (before + after) / 2))
        return min(found)[1]
