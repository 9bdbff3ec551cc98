"""A process kept calm while cues are due: no garbage collection, no long turn of another thread.

Python's collector runs when enough has been allocated, whatever is due: a full collection
of a running bridge takes 10 to 50 ms.  What is there at the start is frozen, the automatic
collector is off, and the young generations are collected in gaps that are long enough.
Another thread (a MIDI driver's) may keep the interpreter for a switch interval, 5 ms
by default: half a millisecond costs nothing measurable and bounds that.  The figures of
both are printed by tests/bench/bench_cues.py.  This file knows nothing about cues.
"""

from __future__ import annotations

import gc
import sys
import time
from types import TracebackType
from typing import Self

__all__ = ["Calm"]

_SWITCH = 0.0005
"""Seconds."""
_YOUNG_GAP = 0.003
"""Seconds that have to be free for a collection of the young objects, which takes under one ms."""
_ENOUGH = 2_000
"""Objects allocated and not freed, below which a collection is not worth it."""
_FULL_EVERY = 60.0
_FULL_FACTOR = 4.0
"""A full collection needs a gap of so many times what the last one took."""
_LONGEST_WAIT = 50_000
"""Objects after which the young ones are collected whatever is due: memory is not endless."""


class Calm:
    """Keep the process calm while a ``with`` block runs; call :meth:`tidy` between cues."""

    def __init__(self) -> None:
        self._full_took = 0.02
        self._full_at = 0.0
        self._was_enabled = True
        self._switch = sys.getswitchinterval()

    def __enter__(self) -> Self:
        self._was_enabled, self._switch = gc.isenabled(), sys.getswitchinterval()
        gc.collect()
        gc.freeze()
        gc.disable()
        sys.setswitchinterval(_SWITCH)
        self._full_at = time.monotonic()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        sys.setswitchinterval(self._switch)
        gc.unfreeze()
        if self._was_enabled:
            gc.enable()

    def tidy(self, gap: float) -> None:
        """Collect garbage if the ``gap`` (seconds until something is due) has room for it."""
        allocated = gc.get_count()[0]
        if gap > _FULL_FACTOR * self._full_took and time.monotonic() - self._full_at > _FULL_EVERY:
            began = time.monotonic()
            gc.collect()
            self._full_at = time.monotonic()
            self._full_took = self._full_at - began
        elif allocated > _LONGEST_WAIT or (allocated > _ENOUGH and gap > _YOUNG_GAP):
            gc.collect(1)
