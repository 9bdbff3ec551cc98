"""What commands write: JSON for programs on stdout, words for people, notes on stderr.

Text from files and from the wire is shown with control characters escaped and never
read as markup.  This file knows no command.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from bridge.errors import PulsebridgeError

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["console", "note", "plain_ascii", "print_json", "safe", "show_error", "write_lines"]


def print_json(value: Any) -> None:
    """Write one JSON object on one line of stdout; NaN and infinity are refused."""
    sys.stdout.write(json.dumps(value, allow_nan=False) + "\n")
    sys.stdout.flush()


def note(text: str) -> None:
    """Write a line for people on stderr."""
    sys.stderr.write(_encodable(safe(text), sys.stderr.encoding) + "\n")


def write_lines(lines: Iterable[str]) -> None:
    """Write lines for people on stdout; what its encoding cannot hold is shown escaped."""
    sys.stdout.write("".join(f"{_encodable(safe(line), sys.stdout.encoding)}\n" for line in lines))


def safe(text: str) -> str:
    """Show control characters (but the line feed) escaped, so that no name moves the cursor."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode() for c in text)


def console() -> Console:
    """Make a rich console on stdout that reads nothing as markup, emoji or highlight."""
    from rich.console import Console

    return Console(markup=False, emoji=False, highlight=False)


def plain_ascii() -> bool:
    """Whether the terminal asks for plain ASCII: its encoding holds nothing else."""
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    return not encoding.lower().replace("-", "").startswith("utf")


def show_error(error: PulsebridgeError) -> None:
    """Write an error for people on stderr: where, what, the line with a caret, what to do next."""
    where = error.where
    note(f"{where}: {error.message}" if where else f"pulsebridge: {error.message}")
    if where is not None and where.text is not None:
        line, caret = _excerpt(where.text, where.column)
        note(f"    {line}")
        note(f"    {caret}")
    if error.hint:
        note(error.hint)


def _excerpt(text: str, column: int) -> tuple[str, str]:
    """At most 72 characters of the line around the column, and the caret below it."""
    shown = safe(text.rstrip("\n").expandtabs(1))
    start = max(0, column - 60)
    return shown[start : start + 72], " " * (column - 1 - start) + "^"


def _encodable(text: str, encoding: str | None) -> str:
    name = encoding or "ascii"
    return text.encode(name, "backslashreplace").decode(name)
