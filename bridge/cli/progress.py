"""Progress on stderr, once something takes longer than a second.

On a terminal the line is rewritten in place; elsewhere a line is written every five
seconds.  This file knows nothing about what takes so long.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from time import monotonic

from bridge.cli.output import note, safe

__all__ = ["Progress"]

_SILENT_SECONDS, _LINE_SECONDS, _REWRITE_SECONDS = 1.0, 5.0, 0.2


class Progress:
    """Tells the share done of one thing; give it to what works, and :meth:`finish` afterwards."""

    def __init__(self, what: str, *, now: Callable[[], float] = monotonic) -> None:
        """Start the clock for ``what``; ``now`` tells seconds."""
        self._what, self._now = safe(what), now
        self._terminal = sys.stderr.isatty()
        self._next = now() + _SILENT_SECONDS
        self._shown = False

    def __call__(self, share: float) -> None:
        """Take notice of the share, 0 to 1."""
        now = self._now()
        if now < self._next or share >= 1:
            return
        text = f"{self._what}: {share:.0%}"
        if self._terminal:
            sys.stderr.write(f"\r{text}")
            sys.stderr.flush()
        else:
            note(text)
        self._shown = True
        self._next = now + (_REWRITE_SECONDS if self._terminal else _LINE_SECONDS)

    def finish(self) -> None:
        """Clear the line that was rewritten, if any."""
        if self._shown and self._terminal:
            sys.stderr.write("\r" + " " * (len(self._what) + 6) + "\r")
            sys.stderr.flush()
