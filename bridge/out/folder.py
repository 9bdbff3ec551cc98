"""A folder of files named after players or voices.

This file knows nothing about what the files hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bridge.errors import DeviceError

__all__ = ["numbered_paths"]

_LONGEST = 60
"""Characters of a name that go into a file's name."""


def numbered_paths(folder: Path, names: Sequence[str], ending: str, *, option: str) -> list[Path]:
    """Make ``folder`` and return a path in it for each of ``names``, numbered from 01.

    Names keep letters and digits of any script; what a file system might not like becomes
    an underscore.  DeviceError, naming the ``option``, where the folder cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DeviceError(
            f"the folder {str(folder)!r} cannot be made: {error.strerror or error}",
            hint=f"Give another folder with {option}.",
        ) from None
    return [folder / f"{number:02d} {_plain(name)}{ending}" for number, name in enumerate(names, start=1)]


def _plain(name: str) -> str:
    kept = "".join(c if c.isalnum() or c in " -_" else "_" for c in name)
    return kept[:_LONGEST].strip() or "_"
