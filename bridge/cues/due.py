"""A cue that is due: when it is to be sent, of what it speaks, and to whom.

This file knows nothing about why it is due.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.exact import Length
from bridge.hostmap import Message

__all__ = ["DueCue"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DueCue:
    """One cue in a pass through a section; lengths count from the section's start."""

    key: str
    """The same cue has the same key, however the section's end moves; no two in a section share one."""
    into: Length
    """When it is to be sent."""
    target: Length
    """What it speaks of: at or after ``into``."""
    text: str = ""
    """What it says; empty where it only sends."""
    bars_until: int = 0
    """Barlines after ``into``, up to ``target``: 0 where it means now."""
    player: str = ""
    """Whom it is for; empty: everybody."""
    osc: tuple[Message, ...] = ()
    midi: tuple[bytes, ...] = ()
    """What the plan wants sent with it."""
