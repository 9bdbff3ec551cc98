"""One way to ask for the time and to wait, for the real clock and for a virtual one.

Everything that waits takes a clock, so that no test sleeps.  Times are seconds on a
steady clock whose zero means nothing.  This file knows nothing about musical time.
"""

from __future__ import annotations

import time
from typing import Protocol

__all__ = ["Clock", "SteadyClock", "VirtualClock"]


class Clock(Protocol):
    """What a waiting program needs of a clock."""

    def now(self) -> float:
        """Return the seconds now; never falling."""
        ...

    def sleep_until(self, at: float) -> None:
        """Return at ``at`` seconds, or at once when that has passed."""
        ...


class SteadyClock:
    """The machine's monotonic clock."""

    def now(self) -> float:
        """Return the seconds of the monotonic clock."""
        return time.monotonic()

    def sleep_until(self, at: float) -> None:
        """Sleep until ``at``."""
        time.sleep(max(0.0, at - time.monotonic()))


class VirtualClock:
    """A clock that stands still until someone sleeps, and then jumps there."""

    def __init__(self, start: float = 0.0) -> None:
        self._now = start

    def now(self) -> float:
        """Return the virtual seconds."""
        return self._now

    def sleep_until(self, at: float) -> None:
        """Jump to ``at``; never backwards."""
        self._now = max(self._now, at)
