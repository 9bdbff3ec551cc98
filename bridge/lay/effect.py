"""What a laying asks its shell to do, as values, in this order and no other.

This file knows nothing about sockets or files.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.hostmap import Message
from bridge.lay.record import Entry

__all__ = ["Effect", "Say", "Send", "Write"]


@dataclass(frozen=True, slots=True)
class Send:
    """Send a message to the host."""

    message: Message


@dataclass(frozen=True, slots=True)
class Write:
    """Replace the record by these entries, on the disk, before anything else is done."""

    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Say:
    """Tell the user; ``warning`` when something may be wrong."""

    text: str
    warning: bool = False


Effect = Send | Write | Say
