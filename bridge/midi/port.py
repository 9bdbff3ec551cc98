"""A MIDI port that is listened to, and survives being pulled out.

Whole messages only, with the time of the steady clock at the driver's callback.  A thread
looks after the port while nothing comes: when it has gone it is waited for, and opened
again when it is back.  This file knows nothing about what messages mean.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError
from bridge.follow.stream import Stream
from bridge.midi.driver import find_inputs, inputs, load, open_system, opened, systems
from bridge.midi.names import find, no_such_port
from bridge.midi.news import PortNews

__all__ = ["MidiIn"]

_LOOK_EVERY = 1.0
"""Seconds of silence after which the port is looked for."""
_NUMBERS = itertools.count(1)


class MidiIn:
    """Listen to the port ``name`` while a ``with`` block runs; ``virtual``: make it, for others to send to.

    ``take`` gets each whole message with its time, ``tell`` what happens to the port; both
    are called on threads of the driver's and of ours, never two at a time.  DeviceError
    with a hint when there is no such port, or python-rtmidi is missing.
    """

    def __init__(
        self,
        name: str,
        *,
        take: Callable[[float, bytes], None],
        tell: Callable[[PortNews], None] = lambda _: None,
        virtual: bool = False,
        look_every: float = _LOOK_EVERY,
    ) -> None:
        self.name = name
        self._take = take
        self._tell = tell
        self._virtual = virtual
        self._look_every = look_every
        self._stream = Stream()
        self._port: Any = None
        self._system = 0
        self._label = f"in-{os.getpid()}-{next(_NUMBERS)}"
        """What our end is called: so that it is known again among the system's ports."""
        self._heard = False
        self._ending = threading.Event()
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._look_after, name="midi", daemon=True)

    @property
    def dropped(self) -> int:
        """How many bytes came that belonged to no whole message."""
        return self._stream.dropped

    def __enter__(self) -> Self:
        self._system, self.name = self._choose()
        try:
            self._open()
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
        self._close()

    def _choose(self) -> tuple[int, str]:
        """Return the system and the full name of the port that is meant."""
        if self._virtual:
            for system in systems():
                if inputs(system) is not None:
                    return system, self.name
            raise DeviceError("no MIDI system runs here", hint="Is JACK, PipeWire or ALSA's sequencer there?")
        found = find_inputs()
        for system in systems():
            name = find(self.name, [port.name for port in found if port.system == system])
            if name is not None:
                return system, name
        raise no_such_port(self.name, [port.name for port in found])

    def _open(self) -> None:
        """Open the port; OSError when it is not there after all."""
        port = open_system(self._system)
        try:
            port.ignore_types(sysex=False, timing=False, active_sense=False)
            port.set_callback(self._on_message)
            if self._virtual:
                self._make(port)
            else:
                port.open_port(self._number_in(port.get_ports()), self._label)
        except BaseException:
            port.delete()
            raise
        self._port = port

    def _number_in(self, names: list[str]) -> int:
        name = find(self.name, names)
        if name is None:
            raise OSError("it is gone")
        return names.index(name)

    def _make(self, port: Any) -> None:
        try:
            port.open_virtual_port(self.name)
        except (NotImplementedError, load().UnsupportedOperationError):
            raise DeviceError(
                "this system cannot make MIDI ports for other programs to send to",
                hint="Install a loop-back MIDI driver and name its port: --midi PORT.",
            ) from None

    def _close(self) -> None:
        port, self._port = self._port, None
        if port is not None:
            with contextlib.suppress(OSError):
                port.cancel_callback()
                port.close_port()
                port.delete()

    def _on_message(self, event: tuple[list[int], float], _: Any) -> None:
        at = time.monotonic()
        self._heard = True
        with self._lock:
            for message in self._stream.feed(bytes(event[0])):
                self._take(at, message)

    def _look_after(self) -> None:
        """Notice in silence that the port has gone, and open it when it is back."""
        while not self._ending.wait(self._look_every):
            if self._heard:
                self._heard = False
                continue
            if self._port is None:
                self._reopen()
            elif not self._is_there():
                self._close()
                self._tell_safely(there=False)

    def _is_there(self) -> bool:
        names = inputs(self._system)
        if names is None:
            return False
        return self._is_connected() and (self._virtual or find(self.name, names) is not None)

    def _is_connected(self) -> bool:
        """Tell whether our end is still there: JACK's is not when its server was started anew."""
        if self._system != load().API_UNIX_JACK:
            return True
        ours = self.name if self._virtual else self._label
        with contextlib.suppress(OSError), opened(self._system, listens=False) as port:
            return any(str(name).endswith(f":{ours}") for name in port.get_ports())
        return False

    def _reopen(self) -> None:
        with contextlib.suppress(OSError):
            self._open()
            self._tell_safely(there=True)

    def _tell_safely(self, *, there: bool) -> None:
        with self._lock:
            self._tell(PortNews(name=self.name, there=there))
