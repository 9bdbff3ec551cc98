"""Names of layers, sections and the like: what may be one, in a plan as on the command line.

This file knows nothing about what is named.
"""

from __future__ import annotations

import unicodedata

from bridge.errors import PlanError

__all__ = ["MAX_NAME_BYTES", "clean_name"]

MAX_NAME_BYTES = 200
_BAD_CATEGORIES = ("Cc", "Cs", "Zl", "Zp")


def clean_name(text: str, *, what: str, commas: bool = True, most_bytes: int = MAX_NAME_BYTES) -> str:
    """Trim a name and return it; PlanError unless it is 1 to 200 bytes without control characters."""
    trimmed = text.strip()
    if not trimmed:
        raise PlanError(f"{what} is empty; it has at least one character")
    if (size := len(trimmed.encode("utf-8", "replace"))) > most_bytes:
        raise PlanError(f"{what} has {size} bytes; at most {most_bytes} are allowed")
    if bad := next((c for c in trimmed if unicodedata.category(c) in _BAD_CATEGORIES), None):
        raise PlanError(f"{what} holds a control character, U+{ord(bad):04X}: {trimmed[:40]!r}")
    if not commas and "," in trimmed:
        raise PlanError(
            f"{what} holds a comma: {trimmed[:40]!r}", hint="Commas separate layers when they are listed."
        )
    return trimmed
