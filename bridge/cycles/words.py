"""Lengths and lists in plain words, for the reasons that this package gives."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.exact import Length

__all__ = ["in_words", "joined"]


def in_words(length: Length) -> str:
    """Write ``12 whole notes``, ``1 whole note`` or ``1/8 of a whole note``."""
    if length.whole_notes.denominator > 1:
        return f"{length} of a whole note"
    return f"{length} whole note{'' if length == Length(1) else 's'}"


def joined(parts: Sequence[str], *, last: str = "and") -> str:
    """Write ``a``, ``a and b`` or ``a, b and c``; at least one part."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} {last} {parts[-1]}"
