"""A recording written as it comes: whole lines only, so that a killed process leaves a good file.

The format is that of :mod:`bridge.store.recording`.  Lines are gathered and handed to the
system in one piece; what does not fit on the disk is taken back.  This file does not know
what the messages mean.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from types import TracebackType
from typing import IO, Self

from bridge.errors import DeviceError, UsageError
from bridge.store.recording import VERSION, Recorded

__all__ = ["Recorder"]


class Recorder:
    """Write to ``path`` while a ``with`` block runs; UsageError when something stands there already.

    DeviceError when the disk refuses; what was written before stays readable.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lines: list[str] = []
        self._file: IO[bytes] | None = None
        self.count = 0
        """How many inputs have been written."""

    def __enter__(self) -> Self:
        try:
            self._file = self._path.open("ab", buffering=0)
            taken = self._file.tell() > 0
        except OSError as error:
            raise UsageError(
                f"the recording {str(self._path)!r} cannot be written: {error.strerror or error}",
                hint="Give a path in a folder that is there and where you may write.",
            ) from None
        if taken:
            self._file.close()
            raise UsageError(
                f"{str(self._path)!r} is there already, and recordings are not overwritten",
                hint="Name another file, or move that one away.",
            )
        self._lines.append(json.dumps({"pulsebridge_recording": VERSION}))
        self.flush()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._file is not None:
            try:
                if kind is None or not issubclass(kind, DeviceError):
                    self.flush()
                    os.fsync(self._file.fileno())
            finally:
                self._file.close()
                self._file = None

    def write(self, recorded: Recorded, packet: bytes = b"") -> None:
        """Take one input; ``packet`` are its bytes, for a number that JSON has no word for."""
        self._lines.append(_line(recorded, packet))
        self.count += 1

    def flush(self) -> None:
        """Hand what was taken to the system."""
        if self._file is None or not self._lines:
            return
        data = "".join(f"{line}\n" for line in self._lines).encode()
        self._lines.clear()
        start = self._file.tell()
        try:
            while data:
                data = data[self._file.write(data) :]
        except OSError as error:
            self._file.truncate(start)
            raise DeviceError(
                f"the recording {str(self._path)!r} cannot be written on: {error.strerror or error}",
                hint="Is there room on the disk? What was written up to now is good.",
            ) from None


def _line(recorded: Recorded, packet: bytes) -> str:
    if recorded.midi is not None:
        return json.dumps({"at": recorded.at, "midi": recorded.midi.hex(" ").upper()})
    if recorded.osc is not None:
        try:
            return json.dumps({"at": recorded.at, "osc": recorded.osc.as_record()}, allow_nan=False)
        except ValueError:
            return json.dumps({"at": recorded.at, "raw": packet.hex().upper()})
    return json.dumps({"at": recorded.at, "raw": (recorded.raw or b"").hex().upper()})
