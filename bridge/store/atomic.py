"""Files replaced as a whole: a reader sees the old content or the new, never a part.

Written beside the target under a name of its own, forced to the disk, then renamed
over it: a crash at any point leaves the old file.  POSIX rename(2) and Windows'
MoveFileEx replace atomically; ``os.replace`` is both.  This file knows nothing about
what is written.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from bridge.errors import DeviceError

__all__ = ["write_atomically"]


def write_atomically(path: Path, content: bytes) -> None:
    """Replace the file at ``path`` by ``content``; DeviceError when the disk refuses.

    The file that was there keeps its permissions; a symbolic link is followed.
    """
    target = path.resolve()
    try:
        temporary = _written_beside(target, content)
    except OSError as error:
        raise _refused(path, error) from None
    try:
        temporary.replace(target)
        _flush_folder(target.parent)
    except OSError as error:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise _refused(path, error) from None


def _written_beside(target: Path, content: bytes) -> Path:
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:100]}.", suffix=".tmp")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(_mode_for(target))
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise
    return temporary


def _mode_for(target: Path) -> int:
    try:
        return target.stat().st_mode & 0o7777
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _flush_folder(folder: Path) -> None:
    """Force the rename itself to the disk, where the system lets a folder be opened."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _refused(path: Path, error: OSError) -> DeviceError:
    return DeviceError(
        f"{str(path)!r} cannot be written: {error.strerror or error}",
        hint="Is there room on the disk, and may you write in that folder? Nothing was changed.",
    )
