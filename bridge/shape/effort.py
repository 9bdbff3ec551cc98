"""The budget of a search: steps, never seconds, so that no plan depends on the machine.

A step is one way of continuing one partial plan.  Steps on numbers wider than 64 bits
count more, as they take longer.  This file knows nothing about what is searched.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["DEFAULT_EFFORT", "Effort"]

DEFAULT_EFFORT = 10_000_000
"""Steps: one to three seconds on an ordinary machine, when they are needed at all."""

_LEAST = 2_000
"""Steps that any single move may take, however little is left: it then ends cleanly."""
_MOST = 1_000_000
"""Steps that any single move may take, however much is left: it bounds the memory."""
_WIDE = 50
"""How many times as long a step takes in numbers wider than 64 bits, fractions included."""


class Effort:
    """Steps taken, and how many a move may still take."""

    __slots__ = ("_progress", "limit", "taken")

    def __init__(self, limit: int, progress: Callable[..., None] | None = None) -> None:
        self.limit = limit
        self.taken = 0
        self._progress = progress

    @property
    def is_spent(self) -> bool:
        """Whether nothing more should be begun."""
        return self.taken >= self.limit

    def room(self, *, wide: bool) -> int:
        """Return how many steps the next move may take."""
        share = max(_LEAST, min(_MOST, (self.limit - self.taken) // 4))
        return max(_LEAST, share // _WIDE) if wide else share

    def take(self, steps: int, *, wide: bool = False) -> None:
        """Count ``steps``."""
        self.taken += steps * _WIDE if wide else steps
        if self._progress is not None:
            self._progress(steps=self.taken)

    @contextmanager
    def share(self, share: int) -> Iterator[None]:
        """Hold what is done within to one ``share``-th of what is left."""
        limit = self.limit
        self.limit = self.taken + max(0, limit - self.taken) // share
        try:
            yield
        finally:
            self.limit = limit

    def part(self, share: int) -> Effort:
        """Return a budget of one ``share``-th of what is left, to be counted back by the caller."""
        return Effort(max(0, self.limit - self.taken) // share, self._progress)
