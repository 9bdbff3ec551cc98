"""How late things were that had a time to be done at.

This file knows nothing about what they were.
"""

from __future__ import annotations

from collections import deque

__all__ = ["Lateness"]

_KEPT = 20_000


class Lateness:
    """How late things were, in seconds: all counted, the last ones kept."""

    def __init__(self) -> None:
        self.count = 0
        self.worst = 0.0
        self._recent: deque[float] = deque(maxlen=_KEPT)

    def note(self, late: float) -> None:
        """Count one that was so late."""
        self.count += 1
        self.worst = max(self.worst, late)
        self._recent.append(late)

    def at_share(self, share: float) -> float | None:
        """Return what so large a share of the last ones was not later than; None where there are none."""
        found = sorted(self._recent.copy())
        return found[min(int(share * len(found)), len(found) - 1)] if found else None
