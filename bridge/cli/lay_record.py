"""The record of what was laid, on the disk: one file beside the plan, a part for each host.

This file knows nothing about what the entries mean.
"""

from __future__ import annotations

import threading
from copy import copy
from pathlib import Path

from bridge.errors import DeviceError
from bridge.hostmap import HostMap
from bridge.lay import Entry, read_record, record_key, write_record
from bridge.store import write_atomically

__all__ = ["RecordFile"]

_WRITING = threading.Lock()
"""Several hosts may be laid at once, and their parts stand in one file."""


class RecordFile:
    """One host's part of the record's file; those of other hosts stay as they are."""

    def __init__(self, path: Path, host: HostMap) -> None:
        self._path = path
        self._key = record_key(host)
        self.latest: tuple[Entry, ...] = ()
        """The entries as last written."""

    def of(self, host: HostMap) -> RecordFile:
        """Return the same file's part for another host map."""
        other = copy(self)
        other._key = record_key(host)  # noqa: SLF001  it is one of us
        other.latest = other.entries()
        return other

    def entries(self) -> tuple[Entry, ...]:
        """Return what the file says of this host; DeviceError or PlanError where it cannot be read."""
        return self._hosts().get(self._key, ())

    def write(self, entries: tuple[Entry, ...]) -> None:
        """Replace this host's entries on the disk; DeviceError where that cannot be."""
        self.latest = entries
        try:
            with _WRITING:
                text = write_record({**self._hosts(), self._key: entries})
                write_atomically(self._path, text.encode())
        except DeviceError as error:
            error.hint = f"{error.hint} Or keep the record elsewhere: --record-in FOLDER."
            raise

    def _hosts(self) -> dict[str, tuple[Entry, ...]]:
        try:
            text = self._path.read_text(encoding="utf-8", errors="replace")
        except FileNotFoundError:
            return {}
        except OSError as error:
            raise DeviceError(
                f"the record {str(self._path)!r} cannot be read: {error.strerror or error}",
                hint="Without it nobody knows which markers are ours; make it readable.",
            ) from None
        return read_record(text, source=str(self._path))
