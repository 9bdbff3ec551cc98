"""Several files written together: all of them appear, or none does.

This file knows nothing about what the files hold.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from bridge.errors import UsageError
from bridge.out.draft import Draft
from bridge.out.request import Written

__all__ = ["Batch"]

Write = Callable[[BinaryIO], Written]


class Batch:
    """Files to write: named first, so that a name that cannot be is refused before any work."""

    def __init__(self, *, force: bool = False) -> None:
        """Replace files that exist only where ``force`` says so."""
        self._force = force
        self._drafts: dict[Path, Draft] = {}

    def name(self, path: Path) -> None:
        """Announce a file; UsageError where it exists, is a folder, or was named before."""
        if path.resolve() in self._drafts:
            raise UsageError(f"{str(path)!r} is named twice", hint="Name each file once.")
        self._drafts[path.resolve()] = Draft(path, force=self._force)

    def write(self, what: dict[Path, Write]) -> dict[Path, Written]:
        """Write every file that was named, then move all to their places.

        DeviceError where the disk refuses; then nothing is left behind.
        """
        written: dict[Path, Written] = {}
        try:
            for path, write in what.items():
                with self._drafts[path.resolve()].open() as file:
                    written[path] = write(file)
            for path in what:
                self._drafts[path.resolve()].keep()
        finally:
            for draft in self._drafts.values():
                draft.drop()
        return written
