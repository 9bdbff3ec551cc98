"""The practice host itself: a transport, markers, and what it answers to each message.

Pure: a message and a time in, messages out.  Its addresses are its own; the host map
``examples/hosts/practice-rig.yaml`` speaks to it.  Like a plain host it makes a new
marker each time it is told to, at the same place too, and hands out numbers that it
never uses again.  This file knows nothing about sockets, threads or real clocks.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from bridge.hostmap import Message
from bridge.practice.timeline import Timeline

__all__ = ["Note", "Rig"]

_BEAT_SECONDS = 0.5
"""A standing transport tells where it is twice a second, so that whoever comes late knows."""


@dataclass(frozen=True, slots=True)
class Note:
    """A marker of the practice host: its number, its seconds as they came, its name."""

    id: int
    seconds: float
    name: str


class Rig:
    """A stand-in host."""

    def __init__(
        self, timeline: Timeline, *, notes: Iterable[tuple[float, str]] = (), rate: float = 20
    ) -> None:
        """Start stopped at the host's bar 1; ``rate`` is the reports a second while it plays."""
        self.timeline = timeline
        self.playing = False
        self.ignored = 0
        """Messages that it did not understand."""
        self._quarters = Fraction(0)
        self._started_at = 0.0
        self._gap = 1 / rate
        self._next_report = 0.0
        self._told: tuple[Fraction, str] | None = None
        self._notes: dict[int, Note] = {}
        self._next_id = 1
        for seconds, name in notes:
            self._put(seconds, name)

    @property
    def notes(self) -> tuple[Note, ...]:
        """Its markers in the order of their making."""
        return tuple(self._notes.values())

    @property
    def wake_at(self) -> float:
        """When it has to report next."""
        return self._next_report

    def quarters(self, now: float) -> Fraction:
        """Return where the transport stands at ``now``."""
        if not self.playing:
            return self._quarters
        gone = Fraction(now - self._started_at)
        return self.timeline.quarters(self.timeline.seconds(self._quarters) + gone)

    def wake(self, now: float) -> list[Message]:
        """Return the report that is due: where it is, and tempo and meter when they changed or it stands."""
        if now < self._next_report:
            return []
        self._next_report = now + (self._gap if self.playing else _BEAT_SECONDS)
        return self._report(now, everything=not self.playing)

    def hear(self, message: Message, now: float) -> list[Message]:
        """Do what ``message`` asks for and return the answers; anything else is counted."""
        arg = message.args
        match (message.address, message.types):
            case ("/rig/note/put", "fs" | "ds"):
                return [self._tell(self._put(arg[0], arg[1]))]
            case ("/rig/note/drop", "i"):
                gone = self._notes.pop(arg[0], None)
                return [Message("/rig/note/gone", "i", (gone.id,))] if gone else []
            case ("/rig/note/all", _):
                return [*map(self._tell, self._notes.values()), Message("/rig/notes/end")]
            case ("/rig/goto", "f" | "d"):
                return self._move(now, Fraction(arg[0]))
            case ("/rig/roll", "i"):
                return self._roll(now, arg[0] != 0)
        self.ignored += 1
        return []

    def _put(self, seconds: float, name: str) -> Note:
        note = Note(self._next_id, seconds, name)
        self._notes[note.id] = note
        self._next_id += 1
        return note

    def _tell(self, note: Note) -> Message:
        return Message("/rig/note", "ifs", (note.id, note.seconds, note.name))

    def _move(self, now: float, quarters: Fraction) -> list[Message]:
        self._quarters, self._started_at = quarters, now
        return self._changed(now)

    def _roll(self, now: float, playing: bool) -> list[Message]:
        self._quarters, self._started_at = self.quarters(now), now
        self.playing = playing
        return self._changed(now)

    def _changed(self, now: float) -> list[Message]:
        self._next_report = now + self._gap
        return self._report(now, everything=True)

    def _report(self, now: float, *, everything: bool) -> list[Message]:
        here = self.quarters(now)
        tempo, meter = self.timeline.bpm(here), self.timeline.meter(here)
        where = Message("/rig/where", "f", (float(here),))
        if not everything and (tempo, str(meter)) == self._told:
            return [where]
        self._told = (tempo, str(meter))
        return [
            Message("/rig/rolling", "i", (int(self.playing),)),
            where,
            Message("/rig/speed", "f", (float(tempo),)),
            Message("/rig/meter", "ii", (meter.top, meter.unit)),
        ]
