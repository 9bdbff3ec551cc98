"""A file in the making: written beside its place under a temporary name, then moved there.

So nobody ever sees half a file, and a full disk or a lost connection leaves none behind.
Every fault of the disk becomes a DeviceError that names the file.  This file knows
nothing about what is written.
"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from bridge.errors import DeviceError, UsageError

__all__ = ["Draft"]


class Draft:
    """The file that will stand at ``path``; keep it with :meth:`keep` or drop it with :meth:`drop`."""

    def __init__(self, path: Path, *, force: bool = False) -> None:
        """Refuse a ``path`` that exists, unless ``force`` says to replace it."""
        self.path = path
        self._target = path.resolve()
        self._force = force
        self._temporary = self._target.with_name(f".{path.name[:40]}.{secrets.token_hex(4)}.part")
        if path.is_dir():
            raise UsageError(f"{str(path)!r} is a folder", hint="Give the path of a file.")
        if not force:
            self._refuse_existing()

    @contextmanager
    def open(self) -> Iterator[BinaryIO]:
        """Open the temporary file for writing and reading; on the way out it reaches the disk."""
        with self._disk(), self._temporary.open("x+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())

    def keep(self) -> None:
        """Move the finished file to its place; one that is replaced hands on its permissions."""
        with self._disk():
            if not self._force:
                self._refuse_existing()
            elif self._target.exists():
                shutil.copymode(self._target, self._temporary)
            self._temporary.replace(self._target)

    def drop(self) -> None:
        """Remove what was written, if it has not been kept."""
        with self._disk():
            self._temporary.unlink(missing_ok=True)

    def _refuse_existing(self) -> None:
        if self.path.exists() or self.path.is_symlink():
            raise UsageError(
                f"{str(self.path)!r} exists and was left as it is",
                hint="Give --force to replace it, or another name.",
            )

    @contextmanager
    def _disk(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise DeviceError(
                f"{str(self.path)!r} cannot be written: {error.strerror or error}",
                hint="Nothing was left behind. Give another folder, or make room.",
            ) from None
