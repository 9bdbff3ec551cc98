"""Messages whose time tag lies ahead, held until they are due; bounded in number and in time.

OSC 1.0: a bundle whose time is past or present is due at once, one with a time ahead when
that comes.  A sender whose date is wrong would have its messages held for ever: a tag
farther from now than can be meant is a wrong clock, and its messages are due at once.
This file reads no clock and no socket.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field
from math import floor
from typing import Generic, TypeVar

from bridge.osc.codec import IMMEDIATELY

__all__ = ["FARTHEST", "MOST_HELD", "Held", "time_tag", "unix_seconds"]

FARTHEST = 10.0
"""Seconds: a time tag farther from now than this, before or after, is a wrong clock."""
MOST_HELD = 4096
_UNIX_EPOCH = 0x83AA7E80
"""Seconds from 1900 to 1970."""

_Item = TypeVar("_Item")


def unix_seconds(tag: int) -> float:
    """Return a time tag (seconds since 1900 in units of 2^-32) as seconds since 1970."""
    return (tag - (_UNIX_EPOCH << 32)) / 2**32


def time_tag(unix: float) -> int:
    """Return seconds since 1970 as a time tag: the inverse of :func:`unix_seconds`.

    Sixty-four bits, as it goes on the wire; beyond February 2036 it begins anew (RFC 5905).
    """
    whole = floor(unix)
    return ((whole + _UNIX_EPOCH << 32) + int((unix - whole) * 2**32)) % 2**64


@dataclass(slots=True)
class Held(Generic[_Item]):
    """What waits, by the time it is due; the same times in the order in which they came."""

    wrong_clock: int = 0
    """Messages whose time tag was too far from now."""
    crowded_out: int = 0
    """Messages for which there was no room to wait."""
    _waiting: list[tuple[float, int, _Item]] = field(default_factory=list)
    _count: int = 0

    def __len__(self) -> int:
        return len(self._waiting)

    def due_at(self, tag: int, at: float, wall: float) -> float:
        """Return when a message that came at ``at`` is due: ``at`` itself, or later.

        ``wall`` is the time of day then, in seconds since 1970.  A tag that cannot be meant
        is counted in ``wrong_clock``.
        """
        if tag == IMMEDIATELY:
            return at
        ahead = unix_seconds(tag) - wall
        if abs(ahead) > FARTHEST:
            self.wrong_clock += 1
            return at
        return at + max(ahead, 0.0)

    def hold(self, item: _Item, due: float) -> bool:
        """Keep ``item`` until ``due``; False, and counted, where there is no room for it."""
        if len(self._waiting) >= MOST_HELD:
            self.crowded_out += 1
            return False
        self._count += 1
        heapq.heappush(self._waiting, (due, self._count, item))
        return True

    def next_due(self) -> float | None:
        """Return when the first one is due; None when nothing waits."""
        return self._waiting[0][0] if self._waiting else None

    def take_due(self, at: float) -> list[tuple[float, _Item]]:
        """Return what is due by ``at``, each with its time, first to last."""
        due: list[tuple[float, _Item]] = []
        while self._waiting and self._waiting[0][0] <= at:
            when, _, item = heapq.heappop(self._waiting)
            due.append((when, item))
        return due
