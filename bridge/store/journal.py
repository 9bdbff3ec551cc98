"""Where the show stood, kept so that a bridge that is killed at any moment can go on.

One JSON line a memory, appended and handed to the system at once: it outlives the process,
however that ends.  (It is not forced to the disk, which may take longer than a beat: when
the power goes, the last seconds may be missing.)  The last whole line counts; a torn one is
ignored.  Now and then the file is replaced by its last line.  A disk that refuses is told
of once, and the show goes on.  This file knows nothing about what a memory means.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import IO, Self

from bridge.errors import UsageError
from bridge.show import Memory

__all__ = ["Journal", "Remembered"]

_LARGEST = 512 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """A memory, and the time of day at which it was written: seconds since 1970."""

    wall: float
    memory: Memory


class Journal:
    """Keep memories in the file ``path`` while a ``with`` block runs; never an error.

    ``warn`` gets a sentence when the disk begins to refuse, and one when it is well again.
    """

    def __init__(
        self, path: Path, *, warn: Callable[[str], None] = lambda _: None, largest: int = _LARGEST
    ) -> None:
        self.path = path
        self.lost = 0
        """Memories that could not be written."""
        self._warn = warn
        self._largest = largest
        self._file: IO[bytes] | None = None
        self._size = 0
        self._refuses = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def last(self) -> Remembered | None:
        """Return the last memory in the file that is whole; None where there is none."""
        try:
            content = self.path.read_bytes()
        except OSError:
            return None
        for line in reversed(content.splitlines()):
            found = _read(line)
            if found is not None:
                return found
        return None

    def keep(self, memory: Memory, *, wall: float) -> bool:
        """Append a memory; False, and counted, where the disk refuses."""
        line = json.dumps({"wall": wall, "memory": memory.as_record()}).encode() + b"\n"
        try:
            self._append(line)
        except OSError as error:
            self._close()
            self.lost += 1
            if not self._refuses:
                self._refuses = True
                why = error.strerror or error
                self._warn(f"the journal cannot be written: {why}; a restart would not know where it was")
            return False
        if self._refuses:
            self._refuses = False
            self._warn("the journal is written again")
        return True

    def forget(self) -> None:
        """Remove the file: the show has ended as it should."""
        self._close()
        with suppress(OSError):
            self.path.unlink(missing_ok=True)

    def _append(self, line: bytes) -> None:
        if self._file is None or self._size > self._largest:
            self._begin(line)
            return
        if self._file.write(line) != len(line):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        self._size += len(line)

    def _begin(self, line: bytes) -> None:
        """Replace the file by one that holds ``line`` alone: whole at any moment."""
        self._close()
        fresh = self.path.with_name(self.path.name + ".new")
        fresh.write_bytes(line)
        fresh.replace(self.path)
        self._file = self.path.open("ab", buffering=0)
        self._size = len(line)

    def _close(self) -> None:
        file, self._file = self._file, None
        if file is not None:
            file.close()


def _read(line: bytes) -> Remembered | None:
    try:
        record = json.loads(line)
        return Remembered(wall=float(record["wall"]), memory=Memory.of_record(record["memory"]))
    except (ValueError, KeyError, TypeError, UsageError):
        return None
