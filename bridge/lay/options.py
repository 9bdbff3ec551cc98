"""How a laying goes about its work: what the user allowed, and the times it keeps.

This file knows nothing about markers.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Options"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What the user allowed, and the bounds of the contract in seconds and counts."""

    anyway: bool = False
    """Lay although the host's tempo or meter differs."""
    put_back: bool = False
    """Move back what the user moved."""
    adopt: bool = False
    """Take over markers that stand exactly where the plan wants them."""
    listen: float = 1.0
    """How long the host may take to tell its tempo."""
    shortest_gap: float = 0.02
    longest_gap: float = 0.25
    listings: int = 16
    """Answered listings without a marker after which it is missing; unanswered ones for an empty host."""
    complete_listings: int = 10
    """The same where the host tells the end of its list: each is complete but for what was lost."""
    tries: int = 10
    """How often one marker is placed, or removed, before it is given up."""
    lasts: float = 36.0
    """After this it ends with what it has, so that the whole command takes less than 40 s."""
