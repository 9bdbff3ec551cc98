"""A lock that only one process holds, and that ends with it however it ends.

The system's own advisory lock on an open file (``flock``, ``msvcrt.locking``): a crash
frees it, so no stale lock is ever left.  Beside it, in the same file, stands who holds
it, for the message to the other one.  This file knows nothing about what is guarded.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from types import TracebackType
from typing import IO, Self

from bridge.errors import DeviceError, PeerError

__all__ = ["HeldError", "Lock", "state_folder"]

_LOCKED_BYTE = 1 << 20
"""Windows locks bytes and keeps others from reading them: one far behind the text."""


class HeldError(PeerError):
    """Another process holds the lock."""


def state_folder() -> Path:
    """Return the user's folder for state that is no document, made where it is not there.

    ``PULSEBRIDGE_STATE`` names another one; else the place that the system's custom gives
    (XDG Base Directory Specification 0.8 for the state folder).
    """
    named = os.environ.get("PULSEBRIDGE_STATE")
    if named:
        folder = Path(named)
    elif sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData/Local") / "pulsebridge"
    elif sys.platform == "darwin":
        folder = Path.home() / "Library/Application Support/pulsebridge"
    else:
        folder = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local/state") / "pulsebridge"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DeviceError(
            f"the folder for running state {str(folder)!r} cannot be made: {error.strerror or error}",
            hint="Name another one in the environment variable PULSEBRIDGE_STATE.",
        ) from None
    return folder


class Lock:
    """Hold the lock at ``path`` while a ``with`` block runs.

    Entering raises :class:`HeldError`, with the ``who`` of the holder in its message, when
    another process has it.
    """

    def __init__(self, path: Path, *, who: str) -> None:
        self._path = path
        self._who = who
        self._file: IO[bytes] | None = None

    def __enter__(self) -> Self:
        try:
            file = self._path.open("a+b")
        except OSError as error:
            raise DeviceError(
                f"the lock {str(self._path)!r} cannot be opened: {error.strerror or error}",
                hint="May you write in that folder? PULSEBRIDGE_STATE names another one.",
            ) from None
        if not _try_lock(file):
            holder = holder_of(self._path)
            file.close()
            raise HeldError(f"{holder} is at work here", hint="Wait for it to end, or stop it.")
        file.truncate(0)
        file.write(f"{self._who} (process {os.getpid()})".encode())
        file.flush()
        self._file = file
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._file is not None:
            self._file.truncate(0)
            self._file.close()
            self._file = None


def holder_of(path: Path) -> str:
    """Return what the holder wrote about itself; a general word where nothing can be read."""
    try:
        text = path.read_bytes()[:200].decode("utf-8", "replace").strip()
    except OSError:
        text = ""
    return text or "another pulsebridge"


if sys.platform == "win32":
    import msvcrt

    def _try_lock(file: IO[bytes]) -> bool:
        file.seek(_LOCKED_BYTE)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            file.seek(0)
        return True

else:
    import fcntl

    def _try_lock(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
