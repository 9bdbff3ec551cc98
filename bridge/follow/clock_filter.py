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
from math import log

from bridge.follow.grid import FASTEST, SLOWEST, Grid, first_grid, observe, with_jump, with_new_tempo

__all__ = ["ClockFilter"]

_FIRST_PERIOD = 2.5 / 120
_FIRST_NOISE = 0.003**2
_LEANS = 4.0
_BACK = 32
"""How many ticks are kept to run again."""
_HOPELESS = 12.0
_PATIENCE = 48
"""A reading that has not come to lead within so many ticks is dropped."""
_NEW_TEMPO = log(1e-4)
_JUMP = log(1e-6)
_WIDE = 0.3


class _Reading:
    """One way to count the ticks: its grid, and what is needed to run them again."""

    __slots__ = ("born", "grid", "past")

    def __init__(self, grid: Grid, past: deque[tuple[float, Grid]], born: int) -> None:
        self.grid = grid
        self.past = past
        self.born = born

    def take(self, at: float, steps: int | None = None) -> None:
        self.past.append((at, self.grid))
        self.grid = observe(self.grid, at, steps)


class ClockFilter:
    """Ticks in; the grid that they probably stand on, out."""

    __slots__ = ("_count", "_first", "_others", "_reading")

    def __init__(self) -> None:
        self._reading: _Reading | None = None
        self._others: list[_Reading] = []
        self._first: float | None = None
        self._count = 0

    @property
    def grid(self) -> Grid | None:
        """The best grid; None before the second tick."""
        return self._reading.grid if self._reading else None

    def tick(self, at: float) -> None:
        """Take a tick that came at ``at``, never before the last one."""
        self._count += 1
        if self._reading is None:
            self._begin(at)
            return
        reading = self._reading
        before = reading.grid.index
        reading.take(at)
        grid = reading.grid
        if self._others:
            self._compare(at)
        if grid.late > _LEANS or grid.early > _LEANS or grid.index - before != 1:
            self._doubt(reading, grid.index - before)

    def _begin(self, at: float) -> None:
        if self._first is None:
            self._first = at
            return
        period = min(max(at - self._first, FASTEST), SLOWEST)
        grid = first_grid(0, self._first, period, sure=period * _WIDE, noise=_FIRST_NOISE)
        self._reading = _Reading(grid, deque(maxlen=_BACK), self._count)
        self._reading.take(at, 1)

    def _compare(self, at: float) -> None:
        for other in self._others:
            other.take(at)
        leader = self._reading
        assert leader is not None
        best = max(self._others, key=lambda other: other.grid.score)
        if best.grid.score > leader.grid.score:
            self._others.remove(best)
            self._others.append(leader)
            leader.born, self._reading = self._count, best
        self._others = [other for other in self._others if self._has_hope(other)]

    def _has_hope(self, other: _Reading) -> bool:
        assert self._reading is not None
        leader = self._reading.grid
        if other.grid.score < leader.score - _HOPELESS or self._count - other.born > _PATIENCE:
            return False
        same = other.grid.index == leader.index and abs(other.grid.time - leader.time) < 0.2 * leader.error
        return not same or other.grid.score > leader.score - 1

    def _doubt(self, reading: _Reading, steps: int) -> None:
        """Begin other readings where the leaning began, unless there are some in the running."""
        if len(self._others) >= 3:
            return
        grid = reading.grid
        late = grid.late > _LEANS
        ago = grid.late_for if late else grid.early_for
        if grid.late <= _LEANS and grid.early <= _LEANS:
            ago = 1
        ago = min(max(ago, 1), len(reading.past))
        past = list(reading.past)
        start = len(past) - ago
        since = past[start:]
        origin = since[0][1]
        wide = max(_WIDE * origin.period, abs(since[0][0] - origin.time - origin.period))
        self._spawn(with_new_tempo(origin, wide), past[:start], since, 1, _NEW_TEMPO)
        self._spawn(with_jump(origin, origin.period), past[:start], since, 1, _JUMP)
        if late or grid.early > _LEANS:
            self._spawn(origin, past[:start], since, 2 if late else 0, 0.0)
        reading.grid = grid._replace(late=0.0, early=0.0, late_for=0, early_for=0)

    def _spawn(
        self, grid: Grid, before: list[tuple[float, Grid]], since: list[tuple[float, Grid]], steps: int, odds: float
    ) -> None:
        other = _Reading(grid._replace(score=grid.score + odds), deque(before, maxlen=_BACK), self._count)
        for place, (at, _) in enumerate(since):
            other.take(at, steps if place == 0 else None)
        self._others.append(other)
