"""What a laying asks its shell to do, as values, in this order and no other.

This file knows nothing about sockets or files.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from bridge.hostmap import Message, Reply, Step
from bridge.lay.record import Entry

__all__ = ["Effect", "Say", "Send", "Write", "deed"]


@dataclass(frozen=True, slots=True)
class Send:
    """Send a message to the host."""

    message: Message
    wait: Fraction = Fraction(0)
    """Seconds in which nothing is sent after it."""
    reply: Reply | None = None
    follows: bool = False
    """It belongs to the same deed as the message before."""
    slow: bool = False
    """Its deed takes more than the host's pace."""


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


def deed(steps: Iterable[Step]) -> tuple[Send, ...]:
    """Return what does the steps of one deed."""
    listed = tuple(steps)
    slow = any(step.is_slow for step in listed)
    return tuple(
        Send(step.message, step.wait, step.reply, follows=number > 0, slow=slow)
        for number, step in enumerate(listed)
    )
