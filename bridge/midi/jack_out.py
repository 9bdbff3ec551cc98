"""MIDI sent through JACK's own client (the extra ``jack``), each message at its own frame.

What is handed over ahead of its time leaves at the frame that is nearest to it: no jitter
but half a frame, whatever this process does meanwhile.  What comes too late leaves at
once, and is counted with how late it was.  This file knows nothing about what messages
mean.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Any

from bridge.midi.frames import FrameClock
from bridge.midi.jack_port import JackPort
from bridge.midi.lateness import Lateness
from bridge.midi.news import PortNews

__all__ = ["JackOut"]

_SLACK = 0.12
"""Seconds that a message should be there before its period begins."""


class JackOut(JackPort):
    """Send to JACK's MIDI port ``name`` while a ``with`` block runs; ``virtual``: make one to listen to."""

    listens = False

    def __init__(
        self,
        name: str,
        *,
        tell: Callable[[PortNews], None] = lambda _: None,
        virtual: bool = False,
        look_every: float = 1.0,
    ) -> None:
        super().__init__(name, tell=tell, virtual=virtual, look_every=look_every)
        self.lateness = Lateness()
        self.failed = 0
        """Messages for which a period had no room."""
        self._waiting: deque[tuple[float, bytes]] = deque()

    @property
    def ahead(self) -> float:
        """How many seconds before it is due a message should be given to :meth:`at`."""
        return 2 * self.period / self.rate + _SLACK

    def at(self, due: float, message: bytes) -> None:
        """Send ``message`` at ``due`` steady seconds, after all that were given before it."""
        self._waiting.append((due, message))

    def _work(self, port: Any, start: int, _frames: int, clock: FrameClock) -> None:
        port.clear_buffer()
        earliest = 0
        while self._waiting:
            due, message = self._waiting[0]
            offset = round((due - clock.seconds(start)) * self.rate)
            if offset >= _frames:
                return
            self._waiting.popleft()
            self.lateness.note(max(0.0, -offset / self.rate))
            earliest = max(earliest, offset)
            self._write(port, earliest, message)

    def _write(self, port: Any, offset: int, message: bytes) -> None:
        try:
            port.write_midi_event(offset, message)
        except Exception:  # noqa: BLE001  JACK's thread: what cannot be sent is counted, the rest goes on
            self.failed += 1
