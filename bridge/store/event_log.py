"""A log of JSON lines that turns over: its newest part keeps the name, older ones are numbered.

Lines are gathered and written in quiet moments, so that no cue waits for a disk.  A disk
that refuses is told of once, what could not be written is counted, and the log goes on
when it can.  This file knows nothing about what is logged.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Self

__all__ = ["EventLog"]

_LARGEST = 4 * 2**20
_KEPT = 4
_MOST_WAITING = 20_000


class EventLog:
    """Write records to ``path`` while a ``with`` block runs; never an error.

    ``warn`` gets a sentence when the disk begins to refuse, and one when it is well again.
    """

    def __init__(
        self,
        path: Path,
        *,
        warn: Callable[[str], None] = lambda _: None,
        largest: int = _LARGEST,
        kept: int = _KEPT,
    ) -> None:
        self.path = path
        self.lost = 0
        """Lines that could not be written."""
        self._warn = warn
        self._largest = largest
        self._kept = kept
        self._waiting: list[str] = []
        self._file: IO[str] | None = None
        self._size = 0
        self._refuses = False

    def __enter__(self) -> Self:
        self.flush()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.flush()
        self._close()

    def write(self, record: Mapping[str, Any]) -> None:
        """Take a record; it is on the disk after the next :meth:`flush`."""
        if len(self._waiting) >= _MOST_WAITING:
            self.lost += 1
            return
        self._waiting.append(json.dumps(record, default=str) + "\n")

    def flush(self) -> None:
        """Write what has gathered."""
        lines, self._waiting = self._waiting, []
        try:
            self._write("".join(lines))
        except OSError as error:
            self._close()
            self.lost += len(lines)
            if not self._refuses:
                self._refuses = True
                self._warn(f"the log {str(self.path)!r} cannot be written: {error.strerror or error}")
            return
        if self._refuses:
            self._refuses = False
            self._warn(f"the log is written again; {self.lost:,} lines are missing")

    def _write(self, text: str) -> None:
        if self._file is not None and self._size > self._largest:
            self._turn_over()
        if self._file is None:
            self._file = self.path.open("a", encoding="utf-8")
            self._size = self._file.tell()
        self._file.write(text)
        self._file.flush()
        self._size += len(text)

    def _turn_over(self) -> None:
        self._close()
        for number in range(self._kept - 1, 0, -1):
            older = self._numbered(number)
            if older.exists():
                older.replace(self._numbered(number + 1))
        self.path.replace(self._numbered(1))

    def _numbered(self, number: int) -> Path:
        return self.path.with_name(f"{self.path.name}.{number}")

    def _close(self) -> None:
        file, self._file = self._file, None
        if file is not None:
            try:
                file.close()
            except OSError as error:  # what it still held is lost, and that the disk is full is known
                self._warn(f"the log was not closed cleanly: {error.strerror or error}")
