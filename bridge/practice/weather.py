"""A network that loses, doubles, delays and reorders packets, the same way for the same seed.

Pure: a packet and a time in, times of arrival out.  This file knows nothing about
sockets.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from bridge.errors import UsageError

__all__ = ["FAIR", "Weather"]

_LATEST = 0.030
"""Seconds: how much later a packet out of order, or a double, comes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Shares from 0 to 1, and the delay of every packet in seconds."""

    lose: float = 0.0
    double: float = 0.0
    reorder: float = 0.0
    delay: float = 0.0
    seed: int = 1

    def __post_init__(self) -> None:
        for name in ("lose", "double", "reorder"):
            share = getattr(self, name)
            if not 0 <= share <= 1:
                raise UsageError(f"the share of packets to {name} is 0 to 100%, not {share:.0%}")
        if not 0 <= self.delay <= 10:
            raise UsageError(f"a delay is 0 to 10 seconds, not {self.delay}")

    def arrivals(self, now: float, chance: random.Random) -> tuple[float, ...]:
        """Return when a packet sent at ``now`` arrives: never, once or twice."""
        if chance.random() < self.lose:
            return ()
        copies = 2 if chance.random() < self.double else 1
        late = [chance.random() < self.reorder for _ in range(copies)]
        extra = [chance.uniform(0, _LATEST) if late[i] or i else 0.0 for i in range(copies)]
        return tuple(now + self.delay + more for more in extra)


FAIR = Weather()
"""Nothing is lost."""
