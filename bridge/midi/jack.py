"""MIDI read through JACK's own client (the extra ``jack``), stamped in frames: no jitter at all.

JACK tells at which frame of its period each message came.  Through the other port the
time is that of the callback, once a period, off by period/√12.  Times are those of the
steady clock by :mod:`bridge.midi.frames`.  This file knows nothing about what messages
mean.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError
from bridge.midi.driver import CLIENT, hushed
from bridge.midi.frames import FrameClock
from bridge.midi.names import find, no_such_port
from bridge.midi.news import PortNews

__all__ = ["JackIn"]

_LOOK_EVERY = 1.0
_WRAP = 2**32


class JackIn:
    """Listen to JACK's MIDI port ``name`` while a ``with`` block runs.

    ``take`` gets each message with its time, ``take_frame`` with its frame; both are called
    on JACK's thread.  ``tell`` gets what happens to the port.  When the port goes it is
    waited for, and the server too.  DeviceError with a hint when there is no such port, no
    server, or the extra is missing.
    """

    def __init__(
        self,
        name: str,
        *,
        take: Callable[[float, bytes], None],
        take_frame: Callable[[int, bytes], None] = lambda _frame, _data: None,
        tell: Callable[[PortNews], None] = lambda _: None,
        look_every: float = _LOOK_EVERY,
    ) -> None:
        self.name = name
        self.dropped = 0
        self._take = take
        self._take_frame = take_frame
        self._tell = tell
        self._look_every = look_every
        self._client: Any = None
        self._there = True
        self._down = threading.Event()
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._look_after, name="jack", daemon=True)

    def __enter__(self) -> Self:
        jack = _library()
        try:
            self._open(jack)
        except jack.JackOpenError as error:
            raise DeviceError(
                f"JACK cannot be reached: {error}",
                hint="Start the JACK server (or PipeWire's), then try again.",
            ) from None
        names = self._names()
        name = find(self.name, names)
        if name is None:
            self._client.close()
            raise no_such_port(self.name, names)
        self.name = name
        self._connect()
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ending.set()
        self._thread.join()
        self._close()

    def _open(self, jack: Any) -> None:
        with hushed():
            client = jack.Client(CLIENT, no_start_server=True)
        port, clock = client.midi_inports.register("in"), FrameClock(client.samplerate)

        def process(_frames: int) -> None:
            start = client.last_frame_time
            clock.tell(start, time.monotonic())
            for offset, data in port.incoming_midi_events():
                frame, message = (start + offset) % _WRAP, bytes(data)
                self._take_frame(frame, message)
                self._take(clock.seconds(frame), message)

        client.set_process_callback(process)
        client.set_shutdown_callback(lambda _status, _reason: self._down.set())
        self._down.clear()
        client.activate()
        self._client, self._port = client, port

    def _close(self) -> None:
        client, self._client = self._client, None
        if client is not None and not self._down.is_set():
            client.deactivate()
            client.close()

    def _names(self) -> list[str]:
        return [port.name for port in self._client.get_ports(is_midi=True, is_output=True)]

    def _connect(self) -> None:
        self._client.connect(self.name, self._port)

    def _look_after(self) -> None:
        """Connect again to what has come back: the port, or the whole server."""
        jack = _library()
        while not self._ending.wait(self._look_every):
            there = self._is_connected(jack)
            if there != self._there:
                self._there = there
                self._tell(PortNews(name=self.name, there=there))

    def _is_connected(self, jack: Any) -> bool:
        try:
            if self._down.is_set():
                self._client = None
                self._open(jack)
            if find(self.name, self._names()) is None:
                return False
            if not any(port.name == self.name for port in self._client.get_all_connections(self._port)):
                self._connect()
        except jack.JackError:
            return False
        return True


def _library() -> Any:
    try:
        import jack
    except (ImportError, OSError) as error:
        found = "is not installed" if isinstance(error, ImportError) else f"finds no JACK library: {error}"
        raise DeviceError(
            f"MIDI with JACK's own times needs JACK-Client, which {found}",
            hint='Install the extra, pip install "pulsebridge[jack]", and JACK or PipeWire itself.',
        ) from None
    return jack
