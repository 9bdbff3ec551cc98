"""A MIDI port that is sent to, and survives being pulled out; no note is left stuck.

Whole messages only.  A thread looks now and then whether the port is still there: when it
has gone it is waited for, and opened again when it is back; what could not be sent
meanwhile is counted.  This file knows nothing about what messages mean.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import threading
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError
from bridge.midi.driver import find_inputs, inputs, load, open_system, opened, systems
from bridge.midi.names import find, no_such_port
from bridge.midi.news import PortNews
from bridge.midi.sounding import Sounding

__all__ = ["MidiOut"]

_LOOK_EVERY = 1.0
"""Seconds."""
_THOROUGHLY = 10
"""Every so many looks, one from outside."""
_NUMBERS = itertools.count(1)


class MidiOut:
    """Send to the port ``name`` while a ``with`` block runs; ``virtual``: make it, for others to listen to.

    ``tell`` gets what happens to the port, on a thread of ours.  DeviceError with a hint
    when there is no such port, or python-rtmidi is missing.
    """

    def __init__(
        self,
        name: str,
        *,
        tell: Callable[[PortNews], None] = lambda _: None,
        virtual: bool = False,
        look_every: float = _LOOK_EVERY,
    ) -> None:
        self.name = name
        self.sent = 0
        self.failed = 0
        """Messages that could not be sent."""
        self.error: str | None = None
        """What the last failure was."""
        self._tell = tell
        self._virtual = virtual
        self._look_every = look_every
        self._port: Any = None
        self._system = 0
        self._label = f"out-{os.getpid()}-{next(_NUMBERS)}"
        """What our end is called: so that it is known again among the system's ports."""
        self._sounding = Sounding()
        self._lock = threading.Lock()
        """Held while a message is handed to the driver, or the port is opened or closed."""
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._look_after, name="midi out", daemon=True)

    def __enter__(self) -> Self:
        self._system, self.name = self._choose()
        try:
            self._port = self._opened()
        except OSError as error:
            raise DeviceError(
                f"the MIDI port {self.name!r} cannot be opened: {error}",
                hint="Does another program have it for itself?",
            ) from None
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ending.set()
        self._thread.join()
        self.silence()
        self._close()

    def send(self, message: bytes) -> bool:
        """Hand one whole message to the driver; False, and counted, where that cannot be done."""
        with self._lock:
            if self._port is None:
                return self._count("the port is gone")
            try:
                self._port.send_message(message)
            except (OSError, ValueError, load().RtMidiError) as error:
                return self._count(str(error))
            self._sounding.sent(message)
        self.sent += 1
        return True

    def silence(self) -> None:
        """End every note that sounds."""
        for message in self._sounding.endings():
            self.send(message)

    def _count(self, error: str) -> bool:
        self.failed += 1
        self.error = error
        return False

    def _choose(self) -> tuple[int, str]:
        """Return the system and the full name of the port that is meant."""
        if self._virtual:
            for system in systems():
                if inputs(system, listens=False) is not None:
                    return system, self.name
            raise DeviceError("no MIDI system runs here", hint="Is JACK, PipeWire or ALSA's sequencer there?")
        found = find_inputs(listens=False)
        for system in systems():
            name = find(self.name, [port.name for port in found if port.system == system])
            if name is not None:
                return system, name
        raise no_such_port(self.name, [port.name for port in found])

    def _opened(self) -> Any:
        """Open the port; OSError when it is not there after all."""
        port = open_system(self._system, listens=False)
        try:
            if self._virtual:
                self._make(port)
            else:
                names = port.get_ports()
                name = find(self.name, names)
                if name is None:
                    raise OSError("it is gone")  # noqa: TRY301  the port is deleted on the way out
                port.open_port(names.index(name), self._label)
        except BaseException:
            port.delete()
            raise
        return port

    def _make(self, port: Any) -> None:
        try:
            port.open_virtual_port(self.name)
        except (NotImplementedError, load().UnsupportedOperationError):
            raise DeviceError(
                "this system cannot make MIDI ports for other programs to listen to",
                hint="Install a loop-back MIDI driver and name its port.",
            ) from None

    def _close(self) -> None:
        with self._lock:
            port, self._port = self._port, None
        if port is not None:
            with contextlib.suppress(OSError):
                port.close_port()
                port.delete()

    def _look_after(self) -> None:
        """Notice that the port has gone, and open it when it is back."""
        looks = 0
        while not self._ending.wait(self._look_every):
            looks += 1
            if self._port is None:
                self._reopen()
            elif not (self._is_listed() and (looks % _THOROUGHLY or self._is_there())):
                self._close()
                self._tell(PortNews(name=self.name, there=False))

    def _is_listed(self) -> bool:
        """Look with the client that we have: opening another one disturbs a running system."""
        if self._virtual:
            return True
        with self._lock:
            names = self._port.get_ports() if self._port is not None else []
        return find(self.name, names) is not None

    def _is_there(self) -> bool:
        """Look from outside, which shows whether our own end is still there too."""
        names = inputs(self._system, listens=False)
        if names is None:
            return False
        return self._is_connected() and (self._virtual or find(self.name, names) is not None)

    def _is_connected(self) -> bool:
        """Tell whether our end is still there: JACK's is not when its server was started anew."""
        if self._system != load().API_UNIX_JACK:
            return True
        ours = self.name if self._virtual else self._label
        with contextlib.suppress(OSError), opened(self._system) as port:
            return any(str(name).endswith(f":{ours}") for name in port.get_ports())
        return False

    def _reopen(self) -> None:
        with contextlib.suppress(OSError):
            port = self._opened()
            with self._lock:
                self._port = port
            self.silence()
            self._tell(PortNews(name=self.name, there=True))
