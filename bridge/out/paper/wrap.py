"""Words into lines of a measured width.

This file knows nothing about paper.
"""

from __future__ import annotations

from bridge.out.typeface import Typeface

__all__ = ["wrapped"]


def wrapped(text: str, faces: Typeface, size: float, room: float, *, first: float | None = None) -> list[str]:
    """Break ``text`` at spaces into lines of at most ``room`` points, the first of ``first``.

    A word that is too long by itself is broken where it must be.
    """
    lines: list[str] = []
    limit, line = room if first is None else first, ""
    for whole in text.split():
        word = whole
        longer = f"{line} {word}" if line else word
        if faces.width(longer, size) <= limit:
            line = longer
            continue
        if line or (first is not None and not lines):
            lines.append(line)
            line, limit = "", room
        while faces.width(word, size) > limit:
            kept = _beginning(word, faces, size, limit)
            lines.append(kept)
            word, limit = word[len(kept) :], room
        line = word
    return [*lines, line] if line or not lines else lines


def _beginning(word: str, faces: Typeface, size: float, room: float) -> str:
    length = 1
    while length < len(word) and faces.width(word[: length + 1], size) <= room:
        length += 1
    return word[:length]
