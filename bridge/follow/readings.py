"""Several ways to count the same ticks, the likeliest of which leads.

Where the newest tick may well be counted in two ways, both go on, and what comes after it
decides: a likelihood ratio test on the tick's number, after Reid 1979.  When the leader's
residuals keep to one side, or a tick seems lost or doubled, others are begun where that
began and run again over the ticks since: a new tempo there, a miscount there, a jump
there.  Where the plan expects another tempo, one reading goes along and one does not.
The hopeless are dropped.  Times in seconds.  This file does not know silences, Start or
Stop.
"""

from __future__ import annotations

from collections import deque
from math import inf, log, pi

from bridge.follow.expected import Expected
from bridge.follow.grid import (
    Grid,
    first_grid,
    observe,
    rival_steps,
    with_jump,
    with_new_tempo,
    with_period,
)

__all__ = ["WIDE", "Reading", "Readings", "new_tempo"]

WIDE = 0.3
"""How far a new tempo may lie from the old one: a standard error, as a share of the period."""
_KEPT = 0.02
_LEANS = 4.0
"""A cumulative sum beyond this raises doubt: about once in 170 good ticks (Page 1954)."""
_BACK = 32
"""How many ticks are kept to run again ..."""
_TURN_BACK = 16
"""... and among how many the beginning of a new tempo is looked for."""
_MOST_LOSS = 12.0
_HOPELESS = 12.0
_PATIENCE = 48
"""A reading that has not come to lead within so many ticks is dropped."""
_MOST = 4
_RIVAL = 6.0
"""A count of the newest tick whose odds are no worse than e to this is kept beside the likeliest."""
_MOST_SKIPPED = 3
"""Ticks missing in a row that do not make a silence yet."""
_LOOK_BACK = (15, 30)
_HINDSIGHT = log(0.02)
_NEW_TEMPO = log(1e-4)
_JUMP = log(1e-6)
_AS_PLANNED, _NOT_AS_PLANNED = log(0.5), log(0.2)

_Past = list[tuple[float, Grid]]
"""Ticks, oldest first, each with the grid as it stood before it."""


class Reading:
    """One way to count the ticks: its grid, what is needed to run them again, whether it is sure.

    ``plan`` holds the tempi that it expects; None where it expects none.
    """

    __slots__ = ("born", "grid", "past", "plan", "sure")

    def __init__(self, grid: Grid, *, sure: bool = True, plan: Expected | None = None, past: _Past) -> None:
        self.grid = grid
        self.past = deque(past, maxlen=_BACK)
        self.plan = plan
        self.sure = sure
        self.born = 0

    def take(self, at: float, steps: int | None = None) -> None:
        """Take the tick that came at ``at``, ``steps`` after the newest if that is known."""
        self.past.append((at, self.grid))
        before, ahead = self.grid.number, max(steps or 1, 1)
        if self.plan is None or self.plan.is_steady(before, ahead + _MOST_SKIPPED):
            self.grid = observe(self.grid, at, steps)
            return
        used = self.plan.period(before + ahead, ahead)
        grid = observe(with_period(self.grid, used / self.plan.period(before)), at, steps)
        self.grid = with_period(grid, self.plan.period(grid.number) / used)

    def ticks_after(self, at: float) -> float:
        """Return how many ticks after the newest one ``at`` lies: negative before it."""
        grid = self.grid
        if self.plan is None or at <= grid.time:
            return (at - grid.time) / grid.period
        pace = grid.period / self.plan.period(grid.number)
        return self.plan.tick(self.plan.seconds(grid.number) + (at - grid.time) / pace) - grid.number

    def expects_a_turn(self, at: float) -> bool:
        """Tell whether the plan has the tempo change between the newest tick and ``at``."""
        grid = self.grid
        ticks = max(int((at - grid.time) / grid.period) + _MOST_SKIPPED, 0)
        return self.plan is not None and not self.plan.is_steady(grid.number, ticks)

    def rename(self, number: int) -> None:
        """Call the newest tick ``number``; the ticks before it can't be run again."""
        self.grid = self.grid._replace(number=number)
        self.past.clear()


class Readings:
    """The reading that leads, and those that may yet come to."""

    __slots__ = ("_count", "_others", "leader", "plan")

    def __init__(self, leader: Reading, *others: Reading, plan: Expected | None = None) -> None:
        self.leader = leader
        self.plan = plan
        self._others = list(others)
        self._count = 0

    def lead_with(self, leader: Reading, *others: Reading) -> None:
        """Begin anew: ``leader`` leads, unless one of ``others`` is likelier."""
        self.leader, self._others = leader, []
        for reading in (leader, *others):
            reading.born = self._count
        self._others = list(others)
        self._choose()

    def alone(self) -> Reading:
        """Drop all but the leader; return it."""
        self._others = []
        return self.leader

    def take(self, at: float, steps: int | None = None) -> None:
        """Take a tick; the leader takes it as ``steps`` after its newest, if that is given."""
        self._count += 1
        self._heed_plan()
        rival = self._rival(at) if steps is None else None
        self.leader.take(at, steps)
        for other in self._others:
            other.take(at)
        if rival is not None:
            self._add(rival)
        if self._others:
            self._choose()
        leader = self.leader
        grid = leader.grid
        moved = grid.number - leader.past[-1][1].number if leader.past else 1
        if moved != 1 or grid.late > _LEANS or grid.early > _LEANS:
            self._doubt(leader)
        if grid.ticks in _LOOK_BACK and len(leader.past) == grid.ticks - 1:
            self._look_back(leader)

    def _rival(self, at: float) -> Reading | None:
        """Return the leader with the tick at ``at`` counted otherwise, where that may well be."""
        leader = self.leader
        steps = rival_steps(leader.grid, at, _RIVAL)
        if steps is None:
            return None
        rival = Reading(leader.grid, sure=leader.sure, plan=leader.plan, past=list(leader.past))
        rival.take(at, steps)
        return rival

    def _heed_plan(self) -> None:
        """Where the plan turns, let one reading go along and one not."""
        leader, plan = self.leader, self.plan
        if plan is None or not plan.turns_at(leader.grid.number):
            return
        if any((other.plan is None) != (leader.plan is None) for other in self._others):
            return
        odds = _AS_PLANNED if leader.plan is None else _NOT_AS_PLANNED
        grid = leader.grid._replace(score=leader.grid.score + odds)
        twin = Reading(
            grid, sure=leader.sure, plan=plan if leader.plan is None else None, past=list(leader.past)
        )
        self._add(twin)

    def _add(self, reading: Reading) -> None:
        reading.born = self._count
        self._others.append(reading)

    def _choose(self) -> None:
        """Let the likeliest reading lead; keep the few that may yet come to."""
        leader = self.leader
        best = max(self._others, key=lambda other: other.grid.score, default=leader)
        if best.grid.score > leader.grid.score:
            self._others.remove(best)
            self._add(leader)
            self.leader = best
        self._thin()

    def _thin(self) -> None:
        """Keep the likeliest other readings, no two alike, none without hope."""
        kept = [self.leader]
        least, oldest = self.leader.grid.score - _HOPELESS, self._count - _PATIENCE
        for other in sorted(self._others, key=lambda other: -other.grid.score):
            hopeful = other.grid.score >= least and other.born >= oldest
            if hopeful and not any(_alike(other, reading) for reading in kept):
                kept.append(other)
        self._others = kept[1 : _MOST + 1]

    def _doubt(self, leader: Reading) -> None:
        """Begin other readings of the last ticks: a new tempo, a miscount, a jump."""
        grid, past = leader.grid, list(leader.past)
        leader.grid = grid._replace(late=0.0, early=0.0, late_for=0, early_for=0)
        if not past:
            return
        leaning = max(grid.late, grid.early) > _LEANS
        began = max(len(past) - max(grid.late_for, grid.early_for, 1), 0) if leaning else len(past) - 1
        for place in {_turned_at(past, grid.noise), began}:
            at, origin = past[place]
            self._run_again(past, place, new_tempo(origin, at - origin.time), 1)
        origin = past[began][1]
        self._run_again(past, began, with_jump(origin, origin.period, _JUMP), 1)
        if leaning:
            side = 1 if grid.late > grid.early else -1
            slipped = _slipped_at(past, side)
            self._run_again(past, slipped, past[slipped][1], 1 + side)
        self._thin()

    def _run_again(self, past: _Past, began: int, grid: Grid, steps: int) -> None:
        """Begin another reading at ``past[began]`` with ``grid``, its first tick ``steps`` on."""
        other = Reading(grid, sure=self.leader.sure, plan=self.leader.plan, past=past[:began])
        other.take(past[began][0], steps)
        for at, _ in past[began + 1 :]:
            other.take(at)
        self._add(other)

    def _look_back(self, leader: Reading) -> None:
        """Count the first ticks again, now that their tempo and jitter are known."""
        grid, past = leader.grid, list(leader.past)
        first = past[0][1]
        known = first_grid(first.number, first.time, grid.period, sure=_KEPT * grid.period, noise=grid.noise)
        known = known._replace(score=first.score + _HINDSIGHT, ticks=_BACK)
        again = Reading(known, sure=leader.sure, plan=leader.plan, past=[])
        for at, _ in past:
            again.take(at)
        self._add(again)
        self._choose()


def new_tempo(grid: Grid, gap: float) -> Grid:
    """Open the period again, wide enough for a first one of ``gap``; great changes are rarer than small."""
    wider = max(abs(gap / grid.period - 1) / WIDE, 1.0)
    return with_new_tempo(grid, wider * WIDE * grid.period, _NEW_TEMPO - 2 * log(wider))


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
    found, best, total = len(past) - 1, -inf, 0.0
    for place in range(len(past) - 1, -1, -1):
        at, grid = past[place]
        off = (at - grid.time) / grid.period - 1
        total += min(max(side * off, -1.0), 1.0) - 0.5
        if total > best:
            found, best = place, total
    return found


def _alike(one: Reading, other: Reading) -> bool:
    """Tell whether two readings have come to the same count, place, tempo and expectation."""
    return (
        one.grid.number == other.grid.number
        and (one.plan is None) == (other.plan is None)
        and abs(one.grid.time - other.grid.time) < 0.3 * other.grid.error
        and abs(one.grid.period - other.grid.period) < 0.002 * other.grid.period
    )
