"""A MIDI clock followed by time: where it is in its ticks, through dropouts and pauses.

A silence of up to 2 s whose next tick falls on the old grid, within a quarter tick, is a
dropout and bridged by time; any other is a pause, after which the place goes on from the
last tick and is not sure until it is named again.  Everything shorter than a silence is
the business of :mod:`bridge.follow.readings`.

Times in seconds, places in ticks.  This file does not know Start, Stop or song position.
"""

from __future__ import annotations

from math import hypot, inf, log

from bridge.follow.expected import Expected
from bridge.follow.grid import FASTEST, SLOWEST, WALK, Grid, first_grid
from bridge.follow.readings import WIDE, Reading, Readings, new_tempo
from bridge.follow.steady import Steady

__all__ = ["ClockFilter"]

_LONGEST_DROPOUT = 2.0
_SILENCE = 2.5
_JITTERS = 6.0
"""Periods without a tick that make a silence, and so many standard deviations of jitter more."""
_ON_GRID = 0.25
"""Within so much of a tick a tick falls on the grid."""
_CLEARLY_OFF = 0.35
"""Beyond so much of a tick, off a grid known to be steady, a dropout is next to impossible ..."""
_HELD_UP = log(3e-4)
"""... unless the ticks were held up and come in a burst: its odds against those of a pause."""
_BLURRED, _OFF_GRID = 2.5, 0.4
"""Where the tempo moves: so many standard errors off the grid are on it, but never more ticks than this."""
_FIRST_PERIOD = 2.5 / 120
_FIRST_NOISE = 0.003**2
_KEPT = 0.02
"""How far the tempo may have moved while nothing was heard: a standard error, as a share of it."""
_PAUSE = log(1e-4)


class ClockFilter:
    """Ticks in; the grid that they probably stand on, out.  ``expected``: the plan's tempi, as a prior."""

    __slots__ = ("_expected", "_last", "_readings", "_steady", "_wanted")

    def __init__(self, expected: Expected | None = None) -> None:
        self._expected = expected
        self._readings: Readings | None = None
        self._last: float | None = None
        self._wanted: int | None = None
        self._steady = Steady()

    @property
    def grid(self) -> Grid | None:
        """The best grid; None before the first tick."""
        return self._readings.leader.grid if self._readings else None

    @property
    def sure(self) -> bool:
        """Whether the count has come through without a pause."""
        return self._readings is None or self._readings.leader.sure

    @property
    def index(self) -> int:
        """The index of the newest tick; before it, one less than the index wanted for the next."""
        if self._wanted is not None or self._readings is None:
            return (self._wanted or 0) - 1
        return self._readings.leader.grid.number

    def restart(self, index: int) -> None:
        """Call the next tick ``index``, and be sure of it."""
        self._wanted = index

    def halt(self) -> None:
        """Expect no planned tempi until the next restart: the ticks have no place in the song."""
        if self._readings is not None:
            self._readings.plan = self._readings.alone().plan = None

    def place(self, at: float) -> float:
        """Return the place at ``at``, in ticks; after too long a silence, that of the last tick."""
        if self._wanted is not None or self._readings is None:
            return float(self._wanted or 0)
        leader = self._readings.leader
        if leader.grid.ticks == 1 or self.is_quiet(at):
            return float(leader.grid.number)
        return leader.grid.number + self._ticks_after(leader, at)

    def error(self, at: float) -> float:
        """Return the standard error of the place at ``at``, in seconds; it grows while nothing comes."""
        grid = self.grid
        if grid is None:
            return inf
        ticks = max(at - grid.time, 0.0) / grid.period
        walked = WALK * grid.period * (ticks**3 / 3) ** 0.5
        return hypot(grid.error, ticks * grid.period_error, walked)

    def is_quiet(self, at: float) -> bool:
        """Tell whether the clock has been silent for longer than time may bridge."""
        grid = self.grid
        if self._last is None or grid is None:
            return True
        return at - self._last > max(_LONGEST_DROPOUT, _SILENCE * grid.period)

    def tick(self, at: float) -> None:
        """Take a tick that came at ``at``, never before the last one."""
        gap = 0.0 if self._last is None else at - self._last
        self._last = at
        readings, wanted = self._readings, self._wanted
        if readings is None or readings.leader.grid.ticks == 1:
            self._begin(at)
        elif wanted is not None:
            self._relabel(readings, at, gap, wanted)
        elif _is_silence(readings.leader.grid, gap):
            self._after_silence(readings, at, gap)
        else:
            readings.take(at)
            self._steady.note(readings.leader.grid)
        self._wanted = None

    def _begin(self, at: float) -> None:
        """Take the first tick, or the second, which gives a first idea of the period."""
        wanted, before = self._wanted, self.grid
        plan = self._readings.plan if self._readings else None
        if before is None or at - before.time > SLOWEST:
            index = wanted if wanted is not None else before.number + 1 if before else 0
            unknown = first_grid(index, at, SLOWEST, sure=SLOWEST, noise=_FIRST_NOISE)
            self._readings = Readings(Reading(unknown, past=[]), plan=plan)
        else:
            gap = max(at - before.time, FASTEST)
            guesses = [_first_guess(before, at, *guess, plan) for guess in ((gap, 1), (gap / 2, 2), (gap, 0))]
            self._readings = Readings(guesses[0], plan=plan)
            self._readings.lead_with(*guesses)
        if wanted is not None:
            self._name(self._readings, wanted)

    def _relabel(self, readings: Readings, at: float, gap: float, index: int) -> None:
        """Take the tick that is ``index`` by decree: on the grid where it may be, else a new one."""
        leader = readings.alone()
        grid = leader.grid
        leader.plan = None
        ticks = leader.ticks_after(at)
        steps, off = round(ticks), abs(ticks - round(ticks))
        near = min(_ON_GRID, 4 * hypot(grid.error, grid.jitter) / grid.period)
        if steps >= 1 and off < near and gap <= _LONGEST_DROPOUT:
            leader.take(at, steps)
        else:
            leader.grid = _resumed(grid, at)
        self._name(readings, index)

    def _name(self, readings: Readings, index: int) -> None:
        leader = readings.alone()
        leader.rename(index)
        self._steady.clear()
        leader.sure = True
        leader.plan = readings.plan = self._expected

    def _ticks_after(self, leader: Reading, at: float) -> float:
        """Return how many ticks after the newest one ``at`` lies, by what bridges a silence best."""
        grid = leader.grid
        if at - grid.time < _SILENCE * grid.period or leader.expects_a_turn(at):
            return leader.ticks_after(at)
        return (at - grid.time) / self._steady.period(grid)

    def _on_grid(self, grid: Grid, at: float) -> float:
        """Return how far off the grid, in ticks, is on it: more where a moving tempo blurs it."""
        if not self._steady.is_moving(grid):
            return _ON_GRID
        blurred = _BLURRED * hypot(self.error(at), grid.jitter) / grid.period
        return max(_ON_GRID, min(blurred, _OFF_GRID))

    def _after_silence(self, readings: Readings, at: float, gap: float) -> None:
        """Take the first tick after a silence: a dropout when it falls on the old grid, else a pause."""
        leader = readings.leader
        grid = leader.grid
        ticks = self._ticks_after(leader, at)
        off = abs(ticks - round(ticks))
        if gap <= _LONGEST_DROPOUT and off <= self._on_grid(grid, at):
            readings.take(at, round(ticks))
            return
        clear = off > _CLEARLY_OFF and self._steady.is_steady(grid)
        self._steady.clear()
        paused = Reading(_resumed(grid, at), sure=False, plan=leader.plan, past=[])
        if gap > _LONGEST_DROPOUT:
            readings.lead_with(paused)
            return
        slower = Reading(new_tempo(grid, gap), sure=leader.sure, past=[])
        slower.take(at, 1)
        leader.take(at)
        if clear:
            score = min(leader.grid.score, paused.grid.score + _HELD_UP)
            leader.grid = leader.grid._replace(score=score)
        readings.lead_with(paused, leader, slower)


def _first_guess(first: Grid, at: float, period: float, steps: int, plan: Expected | None) -> Reading:
    """Guess the period from the first two ticks: the second is ``steps`` after the first."""
    if not steps:
        period = max(period, _FIRST_PERIOD)
    grid = first_grid(first.number, first.time, period, sure=period * WIDE, noise=_FIRST_NOISE)
    reading = Reading(grid, plan=plan, past=[])
    reading.take(at, steps)
    return reading


def _is_silence(grid: Grid, gap: float) -> bool:
    plain = _SILENCE * grid.calm.period
    return gap > plain and gap > plain + _JITTERS * grid.jitter


def _resumed(grid: Grid, at: float) -> Grid:
    """Go on from the last tick on a new grid, of about the old tempo."""
    new = first_grid(grid.number + 1, at, grid.period, sure=_KEPT * grid.period, noise=grid.noise)
    return new._replace(tail=grid.tail, ticks=grid.ticks, score=grid.score + _PAUSE - log(grid.period))
