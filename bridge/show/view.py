"""The show as it stands at one instant: what the status line, the stage page and programs read.

Everything that moves follows from ``line`` and the song: whoever draws it needs no message
a beat.  This file knows nothing about drawing or the wire.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.cues import Rung
from bridge.exact import Length
from bridge.song import Song

__all__ = ["Line", "View"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Where the show stands in its section at a time, and how fast it goes on.

    ``rate`` is how many times as fast as planned: 1 where the plan's tempo holds.  Beyond
    its planned end a held section goes on at the tempo that it ended with.
    """

    at: float
    """Seconds on the steady clock."""
    quarters: float
    """From the section's start; negative in a count-in before it."""
    rate: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The show at ``at``."""

    at: float
    song: Song
    number: int = 0
    """Which song of the set, from 0."""
    songs: tuple[str, ...] = ()
    """The titles of the set."""
    section: int | None = None
    """The section that is played; None before anything is known."""
    line: Line | None = None
    playing: bool = False
    locked: bool = False
    """Whether the place is certain."""
    source: str | None = None
    """Who says so: clock, timecode, osc, or lead where the bridge is the clock."""
    bpm: float | None = None
    held: bool = False
    """It goes on past its end until it is released."""
    leaves: Length | None = None
    """Where it will be left, from its start; None while that is open."""
    follows: int | None = None
    """The section that comes after it; None at the end of the song."""
    ladder: tuple[Rung, ...] = ()
    """Where it can be left, the soonest first; empty where it is not held."""
    waits: bool = False
    """Nothing goes on until it is released: a passage without bars, or between two songs."""
    cue: str = ""
    """The text of the last cue."""
    cue_for: str = ""
    """The player it was for; empty: everybody."""
    cue_at: float | None = None
    offer: str = ""
    """What the rest of the song would become, where it has been planned anew."""
    dropped: int = 0
    """Cues whose moment had passed."""
    late: int = 0
    """Cues sent later than a tick after their time."""
