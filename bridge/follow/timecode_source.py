"""MIDI time code: the transport that quarter frames and full frames add up to.

Playing is when quarter frames come; a quarter of a second without one is a stop.  A full
frame says where the host stands.  The decoder stands up to two frames behind what it has
put together and counts the pieces since, so the place is that of the newest piece.
Source: MIDI Time Code (RP-004/RP-008).  This file does not know how codes are counted.
"""

from __future__ import annotations

from bridge.errors import PeerError
from bridge.follow.messages import FullFrame, Message, QuarterFrame
from bridge.follow.motion import Motion
from bridge.follow.scale import Scale
from bridge.follow.timecode import Assembler, Reading, Timecode
from bridge.follow.transport import Event, Happened, Source, Transport
from bridge.hostmap import Measure, Unit

__all__ = ["TimecodeSource"]

_SILENCE = 0.25
_WALK = 0.0005
_LOCKED_READINGS = 8
_SECONDS = Unit(Measure.SECONDS)


class TimecodeSource:
    """Time code messages in, the host's transport out; ``delay`` seconds pass from host to here."""

    __slots__ = ("_assembler", "_heard", "_motion", "_playing", "_seconds", "delay", "scale")

    def __init__(self, scale: Scale, *, delay: float = 0.0) -> None:
        self.scale = scale
        self.delay = delay
        self._assembler = Assembler()
        self._motion: Motion | None = None
        self._heard: float | None = None
        self._playing = False
        self._seconds: float | None = None
        """Where the host stood last, in seconds of time code."""

    def feed(self, at: float, message: Message) -> list[Event]:
        """Take one message that came at ``at`` seconds; return what happened."""
        events = self.pass_time(at)
        try:
            if isinstance(message, QuarterFrame):
                events += self._quarter(at, message)
            elif isinstance(message, FullFrame):
                events += self._full(at, Timecode.of_message(message))
        except PeerError as error:
            events.append(self._event(Happened.UNREADABLE, at, error.message))
        return events

    def pass_time(self, at: float) -> list[Event]:
        """Notice by ``at`` that the quarter frames have ended."""
        if not self._playing or self._heard is None or at - self._heard <= _SILENCE:
            return []
        if self._motion is not None:
            self._seconds = self._motion.at(self._heard)
        self._playing, self._motion = False, None
        self._assembler.reset()
        return [self._event(Happened.STOPPED, at, "no quarter frames")]

    def transport(self, at: float) -> Transport:
        """Return the host's transport at ``at`` seconds."""
        motion = self._motion
        seconds = self._seconds if motion is None else motion.at(at + self.delay)
        quarters = None if seconds is None else self.scale.quarters(seconds, _SECONDS)
        if quarters is None and self._playing:
            quarters = 0.0
        return Transport(
            at=at,
            playing=self._playing,
            quarters=quarters,
            bpm=None if quarters is None else self.scale.bpm(quarters),
            source=Source.TIMECODE,
            locked=self._is_locked(),
            error_ms=None if motion is None else motion.error(at) * 1000,
        )

    def _is_locked(self) -> bool:
        settled = self._motion is not None and self._motion.reports >= _LOCKED_READINGS
        return self._playing and settled and self.scale.knows_time

    def _quarter(self, at: float, message: QuarterFrame) -> list[Event]:
        events = []
        if not self._playing:
            events.append(self._event(Happened.STARTED, at))
        self._playing, self._heard = True, at
        reading = self._assembler.take(message)
        if reading is not None and self._follow(at, reading):
            events.append(self._event(Happened.MOVED, at, f"to {reading.code}"))
        return events

    def _follow(self, at: float, reading: Reading) -> bool:
        """Take a reading; tell whether the host has jumped."""
        seconds, speed = float(reading.real_seconds), 1.0 if reading.forward else -1.0
        motion = self._motion
        if motion is None:
            self._motion = Motion(at, seconds, speed, walk=_WALK)
            return False
        if motion.speed * speed < 0:
            motion.restart(at, seconds, speed)
            return False
        return motion.report(at, seconds)

    def _full(self, at: float, code: Timecode) -> list[Event]:
        self._assembler.reset()
        self._motion = None
        self._seconds = float(code.real_seconds)
        return [self._event(Happened.MOVED, at, f"to {code}")]

    def _event(self, what: Happened, at: float, detail: str = "") -> Event:
        return Event(what=what, at=at, source=Source.TIMECODE, detail=detail)
