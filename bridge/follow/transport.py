"""What a follower says: the host's transport at one instant, and what has happened to it.

Places here are the host's own.  Measured ones are floats in quarter notes; ``place`` is
exact, and there only where the source is: a song position, a host that stands still.
This file does not know where the knowledge came from.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bridge.exact import Place

__all__ = ["Event", "Happened", "Source", "Transport"]


class Source(StrEnum):
    """Who says where the host is."""

    CLOCK = "clock"
    TIMECODE = "timecode"
    OSC = "osc"


class Happened(StrEnum):
    """What can happen to a transport."""

    STARTED = "started"
    STOPPED = "stopped"
    MOVED = "moved"
    TEMPO_CHANGED = "tempo changed"
    LOST = "lost"
    BACK = "back"
    DISAGREES = "disagrees"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened, when it was noticed (seconds), by whose word, and its figures."""

    what: Happened
    at: float
    source: Source
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Transport:
    """Where the host is at ``at`` seconds, by the best estimate from what came up to then."""

    at: float
    playing: bool = False
    quarters: float | None = None
    """Never None while playing."""
    place: Place | None = None
    bpm: float | None = None
    source: Source | None = None
    locked: bool = False
    """Whether the place is certain, and its error below a 96th note."""
    error_ms: float | None = None
    """The standard error of the place, in milliseconds; None where there is nothing to measure."""
