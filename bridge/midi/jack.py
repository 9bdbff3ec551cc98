"""MIDI read through JACK's own client (the extra ``jack``), stamped in frames: no jitter at all.

JACK tells at which frame of its period each message came.  Through the other port the
time is that of the callback, once a period, off by period/√12.  Times are those of the
steady clock by :mod:`bridge.midi.frames`.  This file knows nothing about what messages
mean.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bridge.midi.frames import FrameClock
from bridge.midi.jack_port import FRAMES_WRAP, JackPort
from bridge.midi.news import PortNews

__all__ = ["JackIn"]


class JackIn(JackPort):
    """Listen to JACK's MIDI port ``name`` while a ``with`` block runs.

    ``take`` gets each message with its time, ``take_frame`` with its frame; both are called
    on JACK's thread.
    """

    listens = True

    def __init__(
        self,
        name: str,
        *,
        take: Callable[[float, bytes], None],
        take_frame: Callable[[int, bytes], None] = lambda _frame, _data: None,
        tell: Callable[[PortNews], None] = lambda _: None,
        look_every: float = 1.0,
    ) -> None:
        super().__init__(name, tell=tell, look_every=look_every)
        self.dropped = 0
        self._take = take
        self._take_frame = take_frame

    def _work(self, port: Any, start: int, _frames: int, clock: FrameClock) -> None:
        for offset, data in port.incoming_midi_events():
            frame, message = (start + offset) % FRAMES_WRAP, bytes(data)
            self._take_frame(frame, message)
            self._take(clock.seconds(frame), message)
