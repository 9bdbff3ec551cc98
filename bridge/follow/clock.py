"""MIDI clock, Start, Continue, Stop and song position: the transport they add up to.

Source: MIDI 1.0 detailed specification 4.2, system real time messages.  Start is place 0,
Continue the remembered place, and playing begins at the next clock; clocks after Stop do
not move the place, but the tempo is learnt from them; song position names the place of
the next clock, in sixteenths.  What the specification leaves open is decided so:

* A song position while playing that agrees with the place to a sixteenth only confirms
  it; any other moves the host there with the next clock, as Continue would.
* A silent clock plays on until Stop.  Up to 2 s are bridged by time.

This file knows no jitter: :mod:`bridge.follow.clock_filter` does.
"""

from __future__ import annotations

from fractions import Fraction

from bridge.exact import Place
from bridge.follow.clock_filter import ClockFilter
from bridge.follow.expected import Expected
from bridge.follow.messages import Clock, Continue, Message, SongPosition, Start, Stop
from bridge.follow.transport import Event, Happened, Source, Transport

__all__ = ["ClockSource"]

_PER_QUARTER = 24
_PER_SIXTEENTH = 6
_NEWS = 0.01
"""A tempo is new when it differs by this share from the one last told."""
_SURE_TEMPO = 0.003
_LOCKED_WITHIN = 0.25
"""Of a tick."""


class ClockSource:
    """Clock messages in, the host's transport out; ``delay`` seconds pass from host to here."""

    __slots__ = (
        "_armed",
        "_filter",
        "_known",
        "_lost",
        "_next",
        "_playing",
        "_stopped_at",
        "_told_bpm",
        "delay",
    )

    def __init__(self, *, expected: Expected | None = None, delay: float = 0.0) -> None:
        self.delay = delay
        self._filter = ClockFilter(expected)
        self._playing = False
        self._armed = False
        self._known = False
        self._lost = False
        self._next = 0
        """The index of the next clock after Continue: the remembered place, in ticks."""
        self._stopped_at: float | None = None
        """Where the host stood at Stop, in ticks, while nothing has named a better place."""
        self._told_bpm: float | None = None

    def feed(self, at: float, message: Message) -> list[Event]:
        """Take one message that came at ``at`` seconds; return what happened."""
        match message:
            case Clock():
                return self._clock(at)
            case Start():
                return self._locate(at, 0, arm=True)
            case Continue():
                return self._locate(at, self._next, arm=True, known=self._known)
            case SongPosition(sixteenths=sixteenths):
                return self._song_position(at, sixteenths * _PER_SIXTEENTH)
            case Stop():
                return self._stop(at)
            case _:
                return []

    def pass_time(self, at: float) -> list[Event]:
        """Notice by ``at`` that the clock has fallen silent."""
        if self._playing and not self._lost and self._filter.is_quiet(at):
            self._lost = True
            return [self._event(Happened.LOST, at, "no clock")]
        return []

    def transport(self, at: float) -> Transport:
        """Return the host's transport at ``at`` seconds."""
        grid = self._filter.grid
        ready = grid is not None and grid.ticks > 1
        ticks = self._ticks(at)
        locked = self._playing and self._known and self._filter.sure and ready
        return Transport(
            at=at,
            playing=self._playing,
            quarters=None if ticks is None else ticks / _PER_QUARTER,
            place=self._exact_place(),
            bpm=2.5 / grid.period if grid and ready else None,
            source=Source.CLOCK,
            locked=locked and self._error() < _LOCKED_WITHIN and not self._filter.is_quiet(at),
            error_ms=self._filter.error(at + self.delay) * 1000 if ready else None,
        )

    def _clock(self, at: float) -> list[Event]:
        was_sure = self._filter.sure
        self._filter.tick(at)
        events: list[Event] = []
        if self._armed:
            self._armed, self._playing, self._lost = False, True, False
            events.append(self._event(Happened.STARTED, at, f"at tick {self._next}"))
        elif self._lost:
            self._lost = False
            events.append(self._event(Happened.BACK, at, "after a silence"))
        elif was_sure and not self._filter.sure and self._playing:
            events.append(self._event(Happened.LOST, at, "the clock paused: the place is not certain"))
        return events + self._tempo_news(at)

    def _tempo_news(self, at: float) -> list[Event]:
        grid = self._filter.grid
        if grid is None or grid.period_error > _SURE_TEMPO * grid.period:
            return []
        bpm, told = 2.5 / grid.period, self._told_bpm
        if told is not None and abs(bpm / told - 1) < _NEWS:
            return []
        self._told_bpm = bpm
        return [] if told is None else [self._event(Happened.TEMPO_CHANGED, at, f"{told:.1f} to {bpm:.1f}")]

    def _locate(self, at: float, index: int, *, arm: bool, known: bool = True) -> list[Event]:
        """Make ``index`` the next clock's."""
        moved = self._playing
        self._next, self._known, self._stopped_at = index, known, None
        self._armed = arm
        self._playing = self._playing and not arm
        self._filter.restart(index)
        return [self._event(Happened.MOVED, at, f"to tick {index}")] if moved else []

    def _song_position(self, at: float, index: int) -> list[Event]:
        if not self._playing:
            return self._locate(at, index, arm=self._armed)
        ahead = self._filter.place(at) - index  # it was sent with the ticks, and is as late as they are
        if self._filter.sure and self._known and -1 <= ahead < _PER_SIXTEENTH + 1:
            return []
        return self._locate(at, index, arm=False)

    def _stop(self, at: float) -> list[Event]:
        self._armed = False
        if not self._playing:
            return []
        last = self._filter.index
        self._stopped_at = min(max(self._filter.place(at), last), last + 1)
        self._next = last + 1
        self._known = self._known and self._filter.sure and not self._filter.is_quiet(at)
        self._playing = False
        self._filter.halt()
        return [self._event(Happened.STOPPED, at, f"after tick {last}")]

    def _ticks(self, at: float) -> float | None:
        if self._playing:
            return self._filter.place(at + self.delay)
        if self._stopped_at is not None:
            return self._stopped_at
        return float(self._next) if self._known or self._armed else None

    def _exact_place(self) -> Place | None:
        if self._playing or not self._known or self._stopped_at is not None:
            return None
        return Place(Fraction(self._next, 4 * _PER_QUARTER))

    def _error(self) -> float:
        grid = self._filter.grid
        return grid.error / grid.period if grid else 1.0

    def _event(self, what: Happened, at: float, detail: str = "") -> Event:
        return Event(what=what, at=at, source=Source.CLOCK, detail=detail)
