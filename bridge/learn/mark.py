"""The steps of an interview, as they stand in its recording among what the host said.

A recording holds nothing but inputs, and its readers refuse anything else.  So a step is
an OSC message under an address of our own, which every reader passes over that has no
use for it: ``/pulsebridge/learn/asked s "bar 9"``.  Those addresses are never taken from
the network.  This file knows nothing about what the host said.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bridge.hostmap import Message

__all__ = ["PREFIX", "Happening", "Mark", "What", "read_mark", "write_mark"]

PREFIX = "/pulsebridge/learn/"


class What(StrEnum):
    """What a mark says about a step."""

    ASKED = "asked"
    """The user was asked; the host may change from now on."""
    DONE = "done"
    """The user says that it is done; the host stays as it is until the next step."""
    SKIPPED = "skipped"
    TOLD = "told"
    """A fact that the user typed in: the tempo or the meter."""
    SENT = "sent"
    """We sent something to the host."""
    SPOKEN = "spoken"
    """The host did what it was sent: the detail is JSON, the messages as YAML and what showed it."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One mark: what it says, of which step (``play``, ``bar``, ``tempo`` ...), with which detail."""

    what: What
    step: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Happening:
    """One message, or one mark, and when it came, in seconds of a steady clock."""

    at: float
    said: Message | Mark


def write_mark(mark: Mark) -> Message:
    """Return ``mark`` as the message that stands for it in a recording."""
    return Message(f"{PREFIX}{mark.what}", "ss", (mark.step, mark.detail))


def read_mark(message: Message) -> Mark | None:
    """Return the mark that ``message`` stands for; None when it is an ordinary message."""
    word = message.address.removeprefix(PREFIX)
    if not message.address.startswith(PREFIX) or word not in list(What) or message.types != "ss":
        return None
    step, detail = message.args
    return Mark(What(word), str(step), str(detail))
