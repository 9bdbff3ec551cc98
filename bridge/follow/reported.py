"""A host that tells its position, tempo and whether it plays, at whatever rate it likes.

Values come decoded, in any unit of the host map.  Between reports time moves the place at
the speed that the host's tempo gives, or the one measured where it tells none.  A host
that never says whether it plays is taken to play while its positions move.  This file
does not know OSC.
"""

from __future__ import annotations

from fractions import Fraction

from bridge.exact import FASTEST, SLOWEST, Place
from bridge.follow.motion import Motion
from bridge.follow.scale import PlainScale, Scale
from bridge.follow.transport import Event, Happened, Source, Transport
from bridge.hostmap import Measure, Unit

__all__ = ["ReportedSource"]

_WALK = 0.0015
"""The speed's relative step a second: a tempo that walks by 0.1 % a beat."""
_TOLD, _GUESSED = 0.002, 0.3
"""How far a speed may be off that was told, and one that was not, as a share of it."""
_LOCKED_REPORTS = 3
_SILENCE = 2.0
_USUAL_GAPS = 4.0
"""A host is silent after so many of its usual gaps, and never before _SILENCE seconds."""
_NEW_TEMPO = 0.001
_USUAL_BPM = 120.0
_FARTHEST = 10**12
_SECONDS = Unit(Measure.SECONDS)
_STILL = 0.15
"""Seconds of unchanged position after which a host that never says so has stopped."""


class ReportedSource:
    """Position, tempo, playing in; the host's transport out; ``delay`` seconds pass from host to here."""

    __slots__ = (
        "_bpm", "_gap", "_heard", "_lost", "_motion", "_playing", "_still_since", "_stood", "_told_playing",
        "_value", "delay", "scale", "unit",
    )  # fmt: skip

    def __init__(self, scale: Scale, unit: Unit, *, delay: float = 0.0) -> None:
        self.scale = scale
        self.unit = unit
        self.delay = delay
        self._motion: Motion | None = None
        self._playing = False
        self._told_playing = False
        self._value: Fraction | None = None
        """The host's own number, as reported last; None where it must have changed since."""
        self._stood: float | None = None
        """Where it was when it stopped: in seconds where its unit is of time, else in quarters."""
        self._bpm: float | None = None
        self._heard: float | None = None
        self._gap = 0.0
        self._still_since = 0.0
        self._lost = False

    def playing(self, at: float, rolling: bool) -> list[Event]:
        """Take the host's word on whether it plays; return what happened."""
        self._told_playing = True
        return self._set_playing(at, rolling)

    def tempo(self, at: float, bpm: float) -> list[Event]:
        """Take the host's tempo, in quarters a minute."""
        if not SLOWEST <= bpm <= FASTEST:
            return [self._event(Happened.UNREADABLE, at, f"a tempo of {bpm:g} quarters a minute")]
        before, self._bpm = self._bpm, bpm
        if isinstance(self.scale, PlainScale):
            self.scale = self.scale.at_tempo(bpm)
        if before is not None and abs(bpm / before - 1) < _NEW_TEMPO:
            return []
        if self._motion is not None:
            self._motion.retime(at, self._nominal(), sure=_TOLD)
        if before is None:
            return []
        return [self._event(Happened.TEMPO_CHANGED, at, f"{before:g} to {bpm:g}")]

    def meter(self, top: int, bottom: int) -> None:
        """Take the host's meter: it matters where places are told in bars and no plan is known."""
        if isinstance(self.scale, PlainScale):
            self.scale = self.scale.in_meter(top, bottom)

    def position(self, at: float, value: Fraction) -> list[Event]:
        """Take the host's position, in its unit; return what happened."""
        if abs(value) > _FARTHEST:
            return [self._event(Happened.UNREADABLE, at, "a position beyond all measure")]
        events = [self._event(Happened.BACK, at)] if self._lost else []
        before, self._value, self._lost = self._value, value, False
        if self._heard is not None:
            gap = at - self._heard
            self._gap += (0.2 if self._gap else 1.0) * (gap - self._gap)
        if value != before:
            self._still_since = at
        if not self._told_playing and before is not None and self._heard is not None:
            events += self._infer_playing(at, before, value)
        if self._playing:
            events += self._follow(at, value)
        elif before is not None and value != before:
            events.append(self._event(Happened.MOVED, at, f"to {float(value):g} {self.unit}"))
        self._heard = at
        return events

    def pass_time(self, at: float) -> list[Event]:
        """Notice by ``at`` that a playing host has fallen silent."""
        if self._playing and not self._lost and self._is_silent(at):
            self._lost = True
            return [self._event(Happened.LOST, at, "no position")]
        return []

    def transport(self, at: float) -> Transport:
        """Return the host's transport at ``at`` seconds."""
        quarters = self._quarters(at)
        motion = self._motion if self._playing else None
        return Transport(
            at=at,
            playing=self._playing,
            quarters=quarters,
            place=self._exact_place(),
            bpm=self._tempo(quarters),
            source=Source.OSC,
            locked=self._is_locked(at),
            error_ms=None if motion is None else motion.error(at) * 1000,
        )

    def _set_playing(self, at: float, rolling: bool) -> list[Event]:
        if rolling == self._playing:
            return []
        if not rolling and self._motion is not None:
            self._stood = self._motion.at(at)  # its word is as late as its positions are
            self._value = None
        self._playing, self._motion = rolling, None
        if rolling and (standing := self._standing()) is not None:
            self._motion = self._new_motion(at, standing)
        return [self._event(Happened.STARTED if rolling else Happened.STOPPED, at)]

    def _follow(self, at: float, value: Fraction) -> list[Event]:
        along = self._along(float(value))
        if self._motion is None:
            self._motion = self._new_motion(at, along)
        elif self._motion.report(at, along):
            return [self._event(Happened.MOVED, at, f"to {float(value):g} {self.unit}")]
        return []

    def _infer_playing(self, at: float, before: Fraction, value: Fraction) -> list[Event]:
        if value == before:
            events = self._set_playing(at, False) if at - self._still_since > _STILL else []
            self._value = value
            return events
        gap = at - self._heard if self._heard is not None else 0.0
        speed = (self._along(float(value)) - self._along(float(before))) / gap if gap > 0 else 0.0
        if self._playing or not 0.2 < speed / self._nominal() < 5:
            return []
        return self._set_playing(at, True)

    def _along(self, value: float) -> float:
        """Return the host's number as what runs evenly: seconds where it is of time, else quarters."""
        return value / (self.unit.rate or 1) if self.unit.of_time else self.scale.quarters(value, self.unit)

    def _standing(self) -> float | None:
        return self._stood if self._value is None else self._along(float(self._value))

    def _new_motion(self, at: float, along: float) -> Motion:
        sure = _TOLD if self._bpm is not None or self.unit.of_time else _GUESSED
        return Motion(at, along, self._nominal(), walk=_WALK, sure=sure)

    def _nominal(self) -> float:
        """Return how fast it should run: seconds or quarters a second."""
        return 1.0 if self.unit.of_time else (self._bpm or _USUAL_BPM) / 60

    def _quarters(self, at: float) -> float | None:
        along = self._motion.at(at + self.delay) if self._motion is not None else self._standing()
        if along is None:
            return 0.0 if self._playing else None
        return self.scale.quarters(along, _SECONDS) if self.unit.of_time else along

    def _tempo(self, quarters: float | None) -> float | None:
        if self._bpm is not None:
            return self._bpm
        if quarters is not None and (planned := self.scale.bpm(quarters)) is not None:
            return planned
        if self._motion is None or self.unit.of_time or self._motion.reports < _LOCKED_REPORTS:
            return None
        return 60 * self._motion.speed

    def _exact_place(self) -> Place | None:
        """Return the place where the host stands still, if its unit holds places exactly."""
        if self._playing or self._value is None:
            return None
        match self.unit.measure:
            case Measure.QUARTERS:
                return Place(self._value / 4)
            case Measure.WHOLE_NOTES:
                return Place(self._value)
            case Measure.TICKS:
                return Place(self._value / (4 * self.unit.rate))
            case _:
                return None

    def _is_locked(self, at: float) -> bool:
        if not self._playing or self._motion is None or self._is_silent(at):
            return False
        known = self._told_playing or self._motion.reports >= _LOCKED_REPORTS
        return known and (self.scale.knows_time or not self.unit.of_time)

    def _is_silent(self, at: float) -> bool:
        return self._heard is None or at - self._heard > max(_SILENCE, _USUAL_GAPS * self._gap)

    def _event(self, what: Happened, at: float, detail: str = "") -> Event:
        return Event(what=what, at=at, source=Source.OSC, detail=detail)
