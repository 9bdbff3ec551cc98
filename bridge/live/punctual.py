"""Messages sent when they are due, by a thread of their own, whatever else the process does.

They are handed over some milliseconds ahead, in order; the thread sleeps until a little
before each and spins for the rest, and asks to be first in line.  Python gives the
interpreter to another thread only every switch interval, which bounds how late a message
may be when somebody else computes.  This file knows nothing about ports or what messages
mean.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from types import TracebackType
from typing import Self

from bridge.clock.priority import FirstInLine
from bridge.midi.lateness import Lateness

__all__ = ["Punctual"]

_SPIN = 0.0002
"""Seconds."""
_AHEAD = 0.15
"""Seconds: more than the event loop ever needs for making the next section ready, less than most beats."""


class Punctual:
    """Hand each message to ``send`` when it is due, while a ``with`` block runs.

    ``ahead``: how many seconds before it is due a message should be given to :meth:`at`.
    What is still waiting at the end is sent first.
    """

    def __init__(self, send: Callable[[bytes], bool], *, ahead: float = _AHEAD) -> None:
        self.ahead = ahead
        self.lateness = Lateness()
        self._send = send
        self._waiting: deque[tuple[float, bytes]] = deque()
        self._some = threading.Condition()
        self._ending = False
        self._thread = threading.Thread(target=self._run, name="punctual", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with self._some:
            self._ending = True
            self._some.notify()
        self._thread.join()

    def at(self, due: float, message: bytes) -> None:
        """Send ``message`` at ``due`` steady seconds, after all that were given before it."""
        with self._some:
            self._waiting.append((due, message))
            self._some.notify()

    def _run(self) -> None:
        with FirstInLine():
            while (first := self._first()) is not None:
                due, message = first
                _wait_until(due)
                self.lateness.note(time.monotonic() - due)
                self._send(message)

    def _first(self) -> tuple[float, bytes] | None:
        """Return what is to be sent next, waiting for it; None at the end."""
        with self._some:
            self._some.wait_for(lambda: self._waiting or self._ending)
            return self._waiting.popleft() if self._waiting else None


def _wait_until(due: float) -> None:
    left = due - time.monotonic() - _SPIN
    if left > 0:
        time.sleep(left)
    while time.monotonic() < due:
        pass
