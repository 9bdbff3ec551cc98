"""A file's ending, as what it is written by.

This file knows no format.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from bridge.errors import UsageError

__all__ = ["known_ending"]


def known_ending(path: Path, endings: Iterable[str], *, what: str = "A file") -> str:
    """Return the ending of ``path`` in lower case; UsageError where it is none of ``endings``."""
    found, known = path.suffix.lower(), tuple(endings)
    if found not in known:
        raise UsageError(
            f"{str(path)!r} ends in {found!r}" if found else f"{str(path)!r} has no ending",
            hint=f"{what} is written by its ending: one of {' '.join(known)}",
        )
    return found
