"""One thing that a leading bridge sends, at its exact time.

This file knows nothing about why it is sent.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction

from bridge.follow.messages import Message, write
from bridge.hostmap import Message as OscMessage
from bridge.show.effect import Effect, SendMidi, SendOsc, Tell

__all__ = ["Moment", "Rank", "Strike", "midi", "osc", "tell"]


class Rank(IntEnum):
    """What goes first at one instant."""

    STOP = 0
    PLACE = 1
    GO = 2
    TICK = 3
    """Before time code and OSC: it is what receivers play by."""
    CODE = 4
    OSC = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Strike:
    """A sound that begins at ``due``.

    ``kind`` is ``downbeat``, ``click``, ``count``, ``meeting``, ``landing``, or ``home`` or
    ``note`` and the number of a layer of the plan, from 0.
    """

    due: float
    kind: str
    channel: int | None
    """Counted from 1; None: on the guide's own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """An effect or a sound, when it is due in exact steady seconds, and its rank at that instant."""

    at: Fraction
    due: float
    """``at`` as the nearest double: quicker to compare."""
    rank: Rank
    effect: Effect | Strike


def midi(at: Fraction, rank: Rank, message: Message) -> Moment:
    """Make the moment of one MIDI message."""
    due = float(at)
    return Moment(at=at, due=due, rank=rank, effect=SendMidi(due=due, data=write(message)))


def osc(at: Fraction, message: OscMessage) -> Moment:
    """Make the moment of one OSC message."""
    due = float(at)
    return Moment(at=at, due=due, rank=Rank.OSC, effect=SendOsc(due=due, message=message))


def tell(at: Fraction, what: str, text: str) -> Moment:
    """Make the moment at which people are told something."""
    due = float(at)
    return Moment(at=at, due=due, rank=Rank.PLACE, effect=Tell(at=due, what=what, text=text))
