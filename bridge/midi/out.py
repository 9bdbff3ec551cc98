"""A MIDI port that is sent to, by python-rtmidi.

Messages go out at once, in the order given.  This file knows nothing about what they mean.
"""

from __future__ import annotations

from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError
from bridge.midi.driver import find_inputs, open_system, systems
from bridge.midi.names import find, no_such_port

__all__ = ["MidiOut"]


class MidiOut:
    """Send to the port ``name`` while a ``with`` block runs.

    DeviceError with a hint when there is no such port, or python-rtmidi is missing.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self._port: Any = None

    def __enter__(self) -> Self:
        system, self.name = self._choose()
        try:
            self._port = open_system(system, listens=False)
            names = self._port.get_ports()
            self._port.open_port(names.index(self.name), "out")
        except (OSError, ValueError) as error:
            self._close()
            raise DeviceError(
                f"the MIDI port {self.name!r} cannot be sent to: {error}",
                hint="Does another program have it for itself?",
            ) from None
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def send(self, message: bytes) -> None:
        """Send one whole message; DeviceError when the port has gone."""
        try:
            self._port.send_message(message)
        except OSError as error:
            raise DeviceError(f"nothing can be sent to the MIDI port {self.name!r}: {error}") from None

    def _choose(self) -> tuple[int, str]:
        found = find_inputs(listens=False)
        for system in systems():
            name = find(self.name, [port.name for port in found if port.system == system])
            if name is not None:
                return system, name
        raise no_such_port(self.name, [port.name for port in found])

    def _close(self) -> None:
        port, self._port = self._port, None
        if port is not None:
            port.delete()
