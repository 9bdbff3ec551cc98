"""Which tick is this?  A MIDI clock followed through jitter, lost and doubled ticks and new tempi.

One reading of the ticks leads.  When its residuals keep to one side, or a tick seems lost
or doubled, other readings are begun where the leaning began, and run again over the ticks
since: the tempo changed there; a tick was lost or doubled there; the clock jumped there.
The reading with the greatest likelihood leads, the hopeless ones are dropped: a likelihood
ratio test on the tick's index, after Reid 1979 (several hypotheses tracked).

Times in seconds, places in ticks.  This file does not know Start, Stop or song position.
"""

from __future__ import annotations

from collections import deque
from math import hypot, inf, log, pi

from bridge.follow.grid import (
    FASTEST,
    SLOWEST,
    WALK,
    Grid,
    first_grid,
    observe,
    with_jump,
    with_new_tempo,
)

__all__ = ["LONGEST_DROPOUT", "ClockFilter"]

LONGEST_DROPOUT = 2.0
"""Seconds: a silence up to this, whose next tick falls on the old grid, is bridged by time."""
_SILENCE = 2.5
"""Periods without a tick that make a silence."""
_ON_GRID = 0.25
"""Within so much of a tick a tick falls on the grid."""

_FIRST_PERIOD = 2.5 / 120
_FIRST_NOISE = 0.003**2
_WIDE = 0.3
"""How far a new tempo may lie from the old one: a standard error, as a share of the period."""
_KEPT = 0.02
"""How far the tempo may have moved while nothing was heard."""
_LEANS = 4.0
"""A cumulative sum beyond this raises doubt: about once in 170 good ticks (Page 1954)."""
_BACK = 32
"""How many ticks are kept to run again."""
_TURN_BACK = 16
_MOST_LOSS = 12.0
_HOPELESS = 12.0
_PATIENCE = 48
"""A reading that has not come to lead within so many ticks is dropped."""
_MOST = 4
_LOOK_BACK = (15, 30)
_HINDSIGHT = log(0.02)
_NEW_TEMPO = log(1e-4)
_JUMP = log(1e-6)
_PAUSE = log(1e-4)


_Past = list[tuple[float, Grid]]
"""Ticks, oldest first, each with the grid as it stood before it."""


class _Reading:
    """One way to count the ticks: its grid, what is needed to run them again, and whether it is sure."""

    __slots__ = ("born", "grid", "past", "sure")

    def __init__(self, grid: Grid, *, born: int, sure: bool, past: _Past) -> None:
        self.grid = grid
        self.past = deque(past, maxlen=_BACK)
        self.born = born
        self.sure = sure

    def take(self, at: float, steps: int | None = None) -> None:
        self.past.append((at, self.grid))
        self.grid = observe(self.grid, at, steps)


class ClockFilter:
    """Ticks in; the grid that they probably stand on, out."""

    __slots__ = ("_count", "_last", "_others", "_reading", "_wanted")

    def __init__(self) -> None:
        self._reading: _Reading | None = None
        self._others: list[_Reading] = []
        self._last: float | None = None
        self._wanted: int | None = None
        self._count = 0

    @property
    def grid(self) -> Grid | None:
        """The best grid; None before the second tick."""
        return self._reading.grid if self._reading else None

    @property
    def sure(self) -> bool:
        """Whether the count has come through without a pause."""
        return self._reading is None or self._reading.sure

    @property
    def index(self) -> int:
        """The index of the newest tick; before it, one less than the index wanted for the next."""
        if self._wanted is not None or self._reading is None:
            return (self._wanted or 0) - 1
        return self._reading.grid.number

    def restart(self, index: int) -> None:
        """Call the next tick ``index``, and be sure of it."""
        self._wanted = index
        self._others = []

    def place(self, at: float) -> float:
        """Return the place at ``at``, in ticks; after too long a silence, that of the last tick."""
        if self._wanted is not None or self._reading is None:
            return float(self._wanted or 0)
        grid = self._reading.grid
        if grid.ticks == 1 or self.is_quiet(at):
            return float(grid.number)
        return grid.number + (at - grid.time) / grid.period

    def error(self, at: float) -> float:
        """Return the standard error of the place at ``at``, in seconds; it grows while nothing comes."""
        grid = self.grid
        if grid is None:
            return inf
        ticks = max(at - grid.time, 0.0) / grid.period
        walked = WALK * grid.period * ticks**1.5 / 3**0.5
        return hypot(grid.error, ticks * grid.period_error, walked)

    def is_quiet(self, at: float) -> bool:
        """Tell whether the clock has been silent for longer than time may bridge."""
        if self._last is None or self._reading is None:
            return True
        return at - self._last > max(LONGEST_DROPOUT, _SILENCE * self._reading.grid.period)

    def tick(self, at: float) -> None:
        """Take a tick that came at ``at``, never before the last one."""
        self._count += 1
        gap = 0.0 if self._last is None else at - self._last
        self._last = at
        if self._reading is None or self._reading.grid.ticks == 1:
            self._begin(at)
        elif self._wanted is not None:
            self._relabel(self._reading, at, gap, self._wanted)
        elif gap > _SILENCE * self._reading.grid.period + 6 * self._reading.grid.jitter:
            self._after_silence(self._reading, at, gap)
        else:
            self._go_on(self._reading, at)
        self._wanted = None

    def _begin(self, at: float) -> None:
        """Take the first tick, or the second, which gives a first idea of the period."""
        wanted, before = self._wanted, self._reading
        if before is None or at - before.grid.time > SLOWEST:
            index = wanted if wanted is not None else before.grid.number + 1 if before else 0
            self._reading = self._new(first_grid(index, at, SLOWEST, sure=SLOWEST, noise=_FIRST_NOISE))
            return
        first, gap = before.grid, max(at - before.grid.time, FASTEST)
        self._reading = self._first_guess(first, at, gap, 1)
        if wanted is not None:
            self._rename(self._reading, wanted)
            return
        self._others = [self._first_guess(first, at, gap / 2, 2), self._first_guess(first, at, gap, 0)]

    def _first_guess(self, first: Grid, at: float, period: float, steps: int) -> _Reading:
        """Guess the period from the first two ticks: the second is ``steps`` after the first."""
        if not steps:
            period = max(period, _FIRST_PERIOD)
        grid = first_grid(first.number, first.time, period, sure=period * _WIDE, noise=_FIRST_NOISE)
        reading = self._new(grid)
        reading.take(at, steps)
        return reading

    def _relabel(self, reading: _Reading, at: float, gap: float, index: int) -> None:
        """Take the tick that is ``index`` by decree: on the grid where it may be, else a new one."""
        grid = reading.grid
        steps, off = _nearest(grid, at)
        near = min(_ON_GRID, 4 * hypot(grid.error, grid.jitter) / grid.period)
        if steps >= 1 and off < near and gap <= LONGEST_DROPOUT:
            reading.take(at, steps)
        else:
            reading.grid = _resumed(grid, at)
        self._rename(reading, index)
        reading.sure = True

    def _rename(self, reading: _Reading, index: int) -> None:
        reading.grid = reading.grid._replace(number=index)
        reading.past.clear()
        self._others = []

    def _after_silence(self, reading: _Reading, at: float, gap: float) -> None:
        """Take the first tick after a silence: a dropout when it falls on the old grid, else a pause."""
        grid = reading.grid
        steps, off = _nearest(grid, at)
        if gap <= LONGEST_DROPOUT and off <= _ON_GRID:
            self._go_on(reading, at, steps)
            return
        paused = self._new(_resumed(grid, at), sure=False)
        self._others = []
        if gap <= LONGEST_DROPOUT:
            slower = self._new(_new_tempo(grid, gap), sure=reading.sure)
            slower.take(at, 1)
            reading.take(at)
            self._others = [reading, slower]
        self._lead(paused)

    def _go_on(self, reading: _Reading, at: float, steps: int | None = None) -> None:
        reading.take(at, steps)
        if self._others:
            for other in self._others:
                other.take(at)
            reading = self._lead(reading)
        grid = reading.grid
        moved = grid.number - reading.past[-1][1].number if reading.past else 1
        if moved != 1 or grid.late > _LEANS or grid.early > _LEANS:
            self._doubt(reading)
        if grid.ticks in _LOOK_BACK and len(reading.past) == grid.ticks - 1:
            self._look_back(reading)

    def _look_back(self, reading: _Reading) -> None:
        """Count the first ticks again, now that their tempo and jitter are known."""
        grid, past = reading.grid, list(reading.past)
        first = past[0][1]
        known = first_grid(first.number, first.time, grid.period, sure=_KEPT * grid.period, noise=grid.noise)
        again = self._new(known._replace(score=first.score + _HINDSIGHT, ticks=_BACK))
        for at, _ in past:
            again.take(at)
        self._others.append(again)
        self._lead(reading)

    def _lead(self, leader: _Reading) -> _Reading:
        """Let the likeliest reading lead, and return it; keep the few that may yet come to."""
        best = max(self._others, key=lambda other: other.grid.score, default=leader)
        if best.grid.score > leader.grid.score:
            self._others.remove(best)
            self._others.append(leader)
            leader.born = self._count
            leader = best
        self._reading = leader
        self._others = self._thinned(leader)
        return leader

    def _thinned(self, leader: _Reading) -> list[_Reading]:
        """Return the likeliest other readings, no two alike, none without hope."""
        kept = [leader]
        least, oldest = leader.grid.score - _HOPELESS, self._count - _PATIENCE
        for other in sorted(self._others, key=lambda other: -other.grid.score):
            hopeful = other.grid.score >= least and other.born >= oldest
            if hopeful and not any(_alike(other.grid, reading.grid) for reading in kept):
                kept.append(other)
        return kept[1 : _MOST + 1]

    def _doubt(self, reading: _Reading) -> None:
        """Begin other readings of the last ticks: a new tempo, a miscount, a jump."""
        grid, past = reading.grid, list(reading.past)
        reading.grid = grid._replace(late=0.0, early=0.0, late_for=0, early_for=0)
        if not past:
            return
        leaning = max(grid.late, grid.early) > _LEANS
        began = max(len(past) - max(grid.late_for, grid.early_for, 1), 0) if leaning else len(past) - 1
        turned = _turned_at(past, grid.noise)
        for place in {turned, began}:
            at, origin = past[place]
            self._run_again(reading, past, place, _new_tempo(origin, at - origin.time), 1)
        origin = past[began][1]
        self._run_again(reading, past, began, with_jump(origin, origin.period, _JUMP), 1)
        if leaning:
            side = 1 if grid.late > grid.early else -1
            slipped = _slipped_at(past, side)
            self._run_again(reading, past, slipped, past[slipped][1], 1 + side)
        self._others = self._thinned(reading)

    def _run_again(self, reading: _Reading, past: _Past, began: int, grid: Grid, steps: int) -> None:
        """Begin another reading at ``past[began]`` with ``grid``, its first tick ``steps`` on."""
        other = self._new(grid, sure=reading.sure, past=past[:began])
        other.take(past[began][0], steps)
        for at, _ in past[began + 1 :]:
            other.take(at)
        self._others.append(other)

    def _new(self, grid: Grid, *, sure: bool = True, past: _Past | None = None) -> _Reading:
        return _Reading(grid, born=self._count, sure=sure, past=past or [])


def _new_tempo(grid: Grid, gap: float) -> Grid:
    """Open the period again, wide enough for a first one of ``gap``; great changes are rarer than small."""
    wider = max(abs(gap / grid.period - 1) / _WIDE, 1.0)
    return with_new_tempo(grid, wider * _WIDE * grid.period, _NEW_TEMPO - 2 * log(wider))


def _nearest(grid: Grid, at: float) -> tuple[int, float]:
    """Return how many ticks on the nearest place of the grid is, and how far off ``at`` is, in ticks."""
    ticks = (at - grid.time) / grid.period
    return round(ticks), abs(ticks - round(ticks))


def _resumed(grid: Grid, at: float) -> Grid:
    """Go on from the last tick on a new grid, of about the old tempo."""
    new = first_grid(grid.number + 1, at, grid.period, sure=_KEPT * grid.period, noise=grid.noise)
    return new._replace(tail=grid.tail, ticks=grid.ticks, score=grid.score + _PAUSE - log(grid.period))


def _turned_at(past: _Past, noise: float) -> int:
    """Return since which tick a new tempo most likely holds, by a straight line through those since."""
    found, best = len(past) - 1, -inf
    for place in range(len(past) - 1, max(len(past) - _TURN_BACK, 0) - 1, -1):
        grid = past[place][1]
        since = [at - grid.time for at, _ in past[place:]]
        count = len(since)
        squares = count * (count + 1) * (2 * count + 1) / 6
        period = sum(number * time for number, time in enumerate(since, 1)) / squares
        loss = sum(
            min((time - number * period) ** 2 / noise, _MOST_LOSS) for number, time in enumerate(since, 1)
        )
        score = grid.score - (loss + count * log(2 * pi * noise)) / 2
        if score > best:
            found, best = place, score
    return found


def _slipped_at(past: _Past, side: int) -> int:
    """Return since which tick the count was most likely one short (``side`` 1) or one over (-1)."""
    best = total = 0.0
    found = len(past) - 1
    for place in range(len(past) - 1, -1, -1):
        at, grid = past[place]
        off = (at - grid.time) / grid.period - 1
        total += min(max(side * off, -1), 1) - 0.5
        if total > best or place == len(past) - 1:
            best, found = total, place
    return found


def _alike(one: Grid, other: Grid) -> bool:
    """Tell whether two readings have come to the same count, place and tempo."""
    return (
        one.number == other.number
        and abs(one.time - other.time) < 0.3 * other.error
        and abs(one.period - other.period) < 0.002 * other.period
    )
