"""The follower: MIDI messages and the host's own reports in, one transport out.

Pure: a function of what came, and when.  Every call names its time, in seconds on one
steady clock, never before the call before it.  This file does not know ports, sockets or
recordings.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from bridge.errors import PeerError
from bridge.follow.choose import Lead
from bridge.follow.clock import ClockSource
from bridge.follow.expected import Expected
from bridge.follow.messages import FullFrame, QuarterFrame, read
from bridge.follow.reported import ReportedSource
from bridge.follow.scale import PlainScale, Scale
from bridge.follow.timecode_source import TimecodeSource
from bridge.follow.transport import Event, Happened, Source, Transport
from bridge.hostmap import Event as Heard
from bridge.hostmap import Measure, MeterHeard, PlayingHeard, PositionHeard, TempoHeard, Unit

__all__ = ["Follower"]

_S = TypeVar("_S", ClockSource, TimecodeSource, ReportedSource)


class Follower:
    """Every source of one host, and the transport they add up to.

    ``scale`` turns the host's numbers into quarters, ``expected`` holds the tempi to come (a
    plan's, where there is one); ``unit`` is that of its reported positions, ``delays`` how
    many seconds a source's messages take to arrive.
    """

    __slots__ = ("_clock", "_heard", "_lead", "_reported", "_timecode")

    def __init__(
        self,
        *,
        scale: Scale | None = None,
        expected: Expected | None = None,
        unit: Unit | None = None,
        delays: Mapping[Source, float] | None = None,
    ) -> None:
        scale, delays = scale or PlainScale(), delays or {}
        self._clock = ClockSource(expected=expected, delay=delays.get(Source.CLOCK, 0.0))
        self._timecode = TimecodeSource(scale, delay=delays.get(Source.TIMECODE, 0.0))
        self._reported = ReportedSource(
            scale, unit or Unit(Measure.QUARTERS), delay=delays.get(Source.OSC, 0.0)
        )
        self._heard: dict[Source, ClockSource | TimecodeSource | ReportedSource] = {}
        """Those that have been heard of at all."""
        self._lead = Lead()

    def rescale(self, scale: Scale) -> None:
        """Read the host's numbers by ``scale`` from now on: its plan was changed."""
        self._timecode.scale = self._reported.scale = scale

    def midi(self, at: float, data: bytes) -> list[Event]:
        """Take one whole MIDI message; return what happened, a broken message included."""
        events = self._pass_time(at)
        try:
            message = read(data)
        except PeerError as error:
            broken = Event(what=Happened.UNREADABLE, at=at, source=Source.CLOCK, detail=error.message)
            return [*events, broken]
        if isinstance(message, QuarterFrame | FullFrame):
            events += self._of(Source.TIMECODE, self._timecode).feed(at, message)
        elif message is not None:
            events += self._of(Source.CLOCK, self._clock).feed(at, message)
        return events + self._decide(at)

    def heard(self, at: float, said: Heard) -> list[Event]:
        """Take what a message of the host means by its host map; return what happened."""
        events = self._pass_time(at)
        reported = self._of(Source.OSC, self._reported)
        match said:
            case PositionHeard(at=number):
                events += reported.position(at, number.value)
            case TempoHeard(bpm=number):
                events += reported.tempo(at, float(number.value))
                self._timecode.scale = reported.scale
            case PlayingHeard(playing=rolling):
                events += reported.playing(at, rolling)
            case MeterHeard(top=top, bottom=bottom):
                reported.meter(top, bottom)
        return events + self._decide(at)

    def pass_time(self, at: float) -> list[Event]:
        """Notice by ``at`` what has fallen silent; call it now and then while nothing comes."""
        return self._pass_time(at) + self._decide(at)

    def transport(self, at: float) -> Transport:
        """Return the best estimate of the host's transport at ``at``, from what came up to then."""
        told, leader = self._lead.last, self._lead.leader
        if leader is None:
            return Transport(at=at)
        if told is not None and told.at == at:
            return told
        return self._lead.told(at, self._heard[leader].transport(at))

    def states(self, at: float) -> list[Transport]:
        """Return the state of each source heard of, by itself; ``at`` may lie a little in the past."""
        return [follower.transport(at) for follower in self._heard.values()]

    def _of(self, source: Source, follower: _S) -> _S:
        """Return ``follower``, from now on one of those that are asked."""
        self._heard.setdefault(source, follower)
        return follower

    def _pass_time(self, at: float) -> list[Event]:
        return [event for follower in self._heard.values() for event in follower.pass_time(at)]

    def _decide(self, at: float) -> list[Event]:
        return self._lead.decide(at, self.states(at))
