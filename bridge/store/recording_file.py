"""A recording on the disk, plain or packed by gzip, as lines.

Told apart by gzip's first two bytes (RFC 1952).  This file does not know what lines mean.
"""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Iterator
from pathlib import Path

from bridge.errors import PlanError, UsageError

__all__ = ["lines_of"]

_MAGIC = b"\x1f\x8b"
_LONGEST = 2**20 + 2


def lines_of(path: Path) -> Iterator[bytes]:
    """Read the lines one by one; a longer one than any recording has comes in pieces.

    UsageError when the file cannot be read; PlanError when it is packed and damaged.
    """
    try:
        with path.open("rb") as file:
            packed = file.read(2) == _MAGIC
            file.seek(0)
            with gzip.open(file) if packed else file as plain:
                while line := plain.readline(_LONGEST):
                    yield line
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise PlanError(
            f"the packed recording {str(path)!r} is damaged: {error}",
            hint="Unpack it with gzip -dc to keep what is good of it.",
        ) from None
    except OSError as error:
        raise UsageError(
            f"the recording {str(path)!r} cannot be read: {error.strerror or error}",
            hint="Give the path of an existing file.",
        ) from None
