"""A one-shot timer that rings when it is due, not a millisecond later; and one for tests.

An event loop's own timer wakes up to a millisecond late, since the system's poll counts
whole ones.  This one has the loop wake it early, sleeps the rest but a little, and spins
for that little.  How late a sleep ends is learnt from each, so that the spin is as short
as the machine allows, and it is bounded: where a sleep ends late after all, nothing is
spun for.  This file knows nothing about what is due.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import asyncio

__all__ = ["PreciseTimer", "Timer", "VirtualTimer"]

_EARLY = 0.0016
"""Seconds by which the loop is asked to wake us early: its poll may be a millisecond late."""
_LONGEST_SPIN = 0.00015
_SHORTEST_SPIN = 0.00002
_LEARNT = 0.05
"""The share by which a spin is shortened when a sleep ended in time."""


class Timer(Protocol):
    """What a running bridge needs of a timer."""

    def now(self) -> float:
        """Return the seconds of the steady clock."""
        ...

    def set(self, at: float | None) -> None:
        """Ring once at ``at`` seconds, or at once when that has passed; None: not at all."""
        ...

    def close(self) -> None:
        """Ring no more."""
        ...


class PreciseTimer:
    """Calls ``ring`` on the event loop ``loop`` when the time that was set has come."""

    __slots__ = ("_at", "_handle", "_loop", "_ring", "_spin")

    def __init__(self, loop: asyncio.AbstractEventLoop, ring: Callable[[], None]) -> None:
        self._loop = loop
        self._ring = ring
        self._at: float | None = None
        self._handle: asyncio.Handle | None = None
        self._spin = _LONGEST_SPIN

    def now(self) -> float:
        """Return the seconds of the machine's steady clock."""
        return time.monotonic()

    def set(self, at: float | None) -> None:
        """Ring once at ``at``; what was set before is forgotten."""
        if at == self._at:
            return
        if self._handle is not None:
            self._handle.cancel()
            self._handle = None
        self._at = at
        if at is not None:
            # not the loop's call_at: its clock may be another one than ours
            left = at - time.monotonic() - _EARLY
            self._handle = (
                self._loop.call_later(left, self._wake) if left > 0 else self._loop.call_soon(self._wake)
            )

    def close(self) -> None:
        """Ring no more."""
        self.set(None)

    def _wake(self) -> None:
        """Wait out what is left, at most the time we were woken early by, and ring."""
        at, self._at, self._handle = self._at, None, None
        if at is None:
            return
        rest = at - time.monotonic()
        if rest > 2 * _EARLY:
            self.set(at)  # woken far too early: a loop's clock is coarse on some systems
            return
        if rest > self._spin:
            self._sleep(at)
        while time.monotonic() < at:
            pass
        self._ring()

    def _sleep(self, at: float) -> None:
        """Sleep until a spin before ``at``, and learn how late a sleep ends here."""
        asked = at - self._spin
        time.sleep(max(0.0, asked - time.monotonic()))
        late = time.monotonic() - asked
        if late > self._spin:
            self._spin = min(late, _LONGEST_SPIN)
        else:
            self._spin = max(_SHORTEST_SPIN, self._spin + _LEARNT * (1.2 * late - self._spin))


class VirtualTimer:
    """A timer on a clock that stands still until it is told to pass on."""

    __slots__ = ("_at", "_now", "_ring")

    def __init__(self, ring: Callable[[], None], *, start: float = 0.0) -> None:
        self._ring = ring
        self._now = start
        self._at: float | None = None

    def now(self) -> float:
        """Return the virtual seconds."""
        return self._now

    def set(self, at: float | None) -> None:
        """Ring once when the clock passes ``at``."""
        self._at = at

    def close(self) -> None:
        """Ring no more."""
        self._at = None

    def pass_to(self, until: float) -> None:
        """Let time pass, ringing at each time that is set on the way, itself included."""
        while self._at is not None and self._at <= until:
            self._now, self._at = max(self._now, self._at), None
            self._ring()
        self._now = max(self._now, until)
