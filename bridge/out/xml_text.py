"""Text that XML 1.0 can hold (W3C, fifth edition, production 2): the rest is left out.

This file knows no format.
"""

from __future__ import annotations

__all__ = ["xml_text"]


def xml_text(text: str) -> str:
    """Return ``text`` without control characters, surrogates and non-characters."""
    return "".join(character for character in text if _legal(character))


def _legal(character: str) -> bool:
    return (
        character in "\t\n"
        or " " <= character < "\ud800"
        or "\ue000" <= character <= "\ufffd"
        or character > "\uffff"
    )
