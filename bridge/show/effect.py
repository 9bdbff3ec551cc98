"""What the conductor wants done: small records that a shell performs, each at its time.

Times are seconds on the bridge's steady clock.  ``due`` is when it should leave, or be
heard where the receiver honours time tags.  This file knows nothing about sockets, ports
or files.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.exact import Place
from bridge.hostmap import Message
from bridge.show.memory import Memory

__all__ = ["AskHost", "Effect", "Keep", "Replan", "SendMidi", "SendOsc", "Tell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SendOsc:
    """An OSC message for all who take cues."""

    due: float
    message: Message


@dataclass(frozen=True, slots=True, kw_only=True)
class SendMidi:
    """One whole MIDI message for all who take cues as MIDI."""

    due: float
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class AskHost:
    """A deed of the host map: locate, play, stop, loop, loop_off.

    ``place`` is the plan's; ``until`` is a loop's end.
    """

    due: float
    deed: str
    place: Place
    until: Place | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tell:
    """Something that people and programs should know: a line of text, and its figures."""

    at: float
    what: str
    """One word or two, the event's name in the JSON lines: section, cue, hold, release ..."""
    text: str
    data: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """What has to be on disk before anything after it is performed."""

    memory: Memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Replan:
    """Work out the rest of the song anew, in another process, and come back with an offer."""

    at: float
    played: tuple[tuple[str, int], ...]
    """The sections that have been played, or whose end is certain, each with its bars, in order."""
    song: int = 0
    """Which song of the set."""


Effect = SendOsc | SendMidi | AskHost | Tell | Keep | Replan
