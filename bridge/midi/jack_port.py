"""One port of a JACK client (the extra ``jack``) that survives: the other's going, and the server's.

Source: the JACK API by JACK-Client.  A thread looks now and then whether the port is still
connected; when the other end or the whole server has gone it is waited for.  This file
knows nothing about what comes through.
"""

from __future__ import annotations

import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError
from bridge.midi.driver import CLIENT, hushed
from bridge.midi.frames import FrameClock
from bridge.midi.names import find, no_such_port
from bridge.midi.news import PortNews

__all__ = ["FRAMES_WRAP", "JackPort"]

_LOOK_EVERY = 1.0
FRAMES_WRAP = 2**32


class JackPort(ABC):
    """Be connected to JACK's MIDI port ``name`` while a ``with`` block runs; ``virtual``: wait for others.

    ``tell`` gets what happens to the port.  DeviceError with a hint when there is no such
    port, no server, or the extra is missing.
    """

    listens: bool
    """Whether ours is an input: the other one is then an output."""

    def __init__(
        self,
        name: str,
        *,
        tell: Callable[[PortNews], None] = lambda _: None,
        virtual: bool = False,
        look_every: float = _LOOK_EVERY,
    ) -> None:
        self.name = name
        self.rate = 0
        """Frames a second, once it is open."""
        self.period = 0
        """Frames in one period."""
        self._tell = tell
        self._virtual = virtual
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
        if not self._virtual:
            self._find()
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ending.set()
        self._thread.join()
        self._close()

    @abstractmethod
    def _work(self, port: Any, start: int, _frames: int, clock: FrameClock) -> None:
        """Do what is to be done in the period of so many frames from frame ``start``, on JACK's thread."""

    def _find(self) -> None:
        names = self._names()
        name = find(self.name, names)
        if name is None:
            self._client.close()
            raise no_such_port(self.name, names)
        self.name = name
        self._connect()

    def _open(self, jack: Any) -> None:
        with hushed():
            client = jack.Client(CLIENT, no_start_server=True)
        ports = client.midi_inports if self.listens else client.midi_outports
        port = ports.register(self.name if self._virtual else "in" if self.listens else "out")
        clock = FrameClock(client.samplerate)
        self.rate, self.period = client.samplerate, client.blocksize

        def process(frames: int) -> None:
            start = client.last_frame_time
            clock.tell(start, time.monotonic())
            self._work(port, start, frames, clock)

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
        found = self._client.get_ports(is_midi=True, is_output=self.listens, is_input=not self.listens)
        return [port.name for port in found]

    def _connect(self) -> None:
        if self.listens:
            self._client.connect(self.name, self._port)
        else:
            self._client.connect(self._port, self.name)

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
            if self._virtual:
                return True
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
