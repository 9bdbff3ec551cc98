"""The grid of a MIDI clock: when its newest tick was due, how far apart its ticks are, how sure that is.

One tick's worth of a Kalman filter over (time of the newest tick, period), after Kalman
1960, for a period that walks.  Two copies run, for a tempo that hardly moves and for one
on the move, mixed after Blom and Bar-Shalom 1988 (interacting multiple models).  The
jitter is learnt as it comes: a core, a tail of three times its width, and ticks that are
merely late; a tick counts for as much as it probably belongs to the core.

Times in seconds.  This file knows neither Start and Stop nor that there may be other
readings of the same ticks (:mod:`bridge.follow.clock_filter`).
"""

from __future__ import annotations

from math import exp, inf, log, pi, sqrt
from typing import NamedTuple

__all__ = ["FASTEST", "SLOWEST", "Grid", "Line", "first_grid", "observe", "with_jump", "with_new_tempo"]

FASTEST, SLOWEST = 2.5 / 1000, 2.5 / 1
"""The least and the greatest period: 1000 and 1 quarter notes a minute."""

_CALM = (0.001**2) / 24
"""Squared relative step of the period per tick: a tempo that walks by 0.1 % a beat."""
_MOVING = 36 * _CALM
_START_MOVING = 0.004
_STOP_MOVING = 0.04

_TAIL = 9.0
"""The tail's variance over the core's."""
_LATE = 0.01
"""The share of ticks that are late for no reason the jitter explains ..."""
_LATE_BY = 0.02
"""... and by how much, in seconds; falling off as the square beyond."""
_EARLY = 0.0003
_SQRT_2PI = sqrt(2 * pi)
_LEARN = 1 / 160
_LEAST_NOISE = 1e-5**2
_MISCOUNT = 0.004
"""The odds of a tick lost, or doubled."""
_ONE_MORE = 0.8
_NEW = 32
_DRIFT = 0.5
_CLIP = 3.0


class Line(NamedTuple):
    """Estimate and covariance: time of the newest tick, period; their variances and covariance."""

    time: float
    period: float
    tt: float
    tp: float
    pp: float


class Grid(NamedTuple):
    """All that is known after a tick; ``index`` numbers the tick that the lines stand on."""

    index: int
    calm: Line
    moving: Line
    share: float
    """The odds that the tempo is on the move."""
    noise: float
    """The variance of the jitter's core."""
    tail: float
    """The share of ticks in the jitter's tail."""
    ticks: int
    score: float
    """The log-likelihood of all ticks so far, for comparing one reading with another."""
    late: float
    early: float
    """Cumulative sums (Page 1954) of residuals that keep to one side."""
    late_for: int
    early_for: int
    missing: float
    """When the tick skipped last was due; it may yet come late.  Minus infinity: none was."""
    """For how many ticks each sum has been above zero."""

    @property
    def time(self) -> float:
        """When tick ``index`` was due."""
        return self.calm.time + self.share * (self.moving.time - self.calm.time)

    @property
    def period(self) -> float:
        """Seconds from one tick to the next."""
        return self.calm.period + self.share * (self.moving.period - self.calm.period)

    @property
    def error(self) -> float:
        """The standard error of ``time``, in seconds."""
        apart = self.moving.time - self.calm.time
        spread = self.share * (1 - self.share) * apart * apart
        return sqrt(self.calm.tt + self.share * (self.moving.tt - self.calm.tt) + spread)

    @property
    def jitter(self) -> float:
        """The standard deviation of the jitter as learnt, late ticks apart, in seconds."""
        return sqrt(self.noise * (1 + self.tail * (_TAIL - 1)))


def first_grid(index: int, at: float, period: float, *, sure: float, noise: float) -> Grid:
    """Begin at a tick that came at ``at``; ``sure`` is the period's standard error."""
    line = Line(at, period, noise, 0.0, sure * sure)
    return Grid(index, line, line, 0.1, noise, 0.02, 1, 0.0, 0.0, 0.0, 0, 0, -inf)


def observe(grid: Grid, at: float, steps: int | None = None) -> Grid:
    """Take the tick that came at ``at``; it is ``steps`` after the newest, by likelihood unless given."""
    if steps is None:
        calm = grid.calm
        off = at - calm.time - calm.period
        steps = 1 if abs(off) < 0.3 * calm.period else _likeliest_steps(grid, at)
    odds = _odds(grid, 0) if steps == 0 else 1.0
    skipped = _odds(grid, steps) if steps > 1 else 1.0
    missing = grid.missing if steps < 2 else grid.calm.time + (steps - 1) * grid.calm.period
    calm, moving, share = _mixed(grid)
    calm = _ahead(calm, steps, _CALM)
    moving = _ahead(moving, steps, _MOVING)

    off = at - calm.time - share * (moving.time - calm.time)
    spread = calm.tt + share * (moving.tt - calm.tt)
    noise = grid.noise
    late_by = off if steps else at - missing
    core, tail, density = _belonging(off, spread, noise, grid.tail, odds, late_by)
    known = core + tail
    weight = (core + tail / _TAIL) / noise
    if weight * spread > 1e-9:
        felt = 1 / weight
        calm, calm_fit = _corrected(calm, at, felt)
        moving, moving_fit = _corrected(moving, at, felt)
        share = 1 / (1 + (1 - share) * calm_fit / (share * moving_fit + 1e-300))

    ticks = grid.ticks + 1
    learn = max(_LEARN, 1 / (ticks + 6))
    left = at - calm.time - share * (moving.time - calm.time)
    seen = left * left + calm.tt + share * (moving.tt - calm.tt)
    noise += learn * ((core + tail / _TAIL) * seen - known * noise)
    late, early, late_for, early_for = _leaning(grid, off / sqrt(spread + noise))
    return Grid(
        grid.index + steps,
        calm,
        moving,
        share,
        noise if noise > _LEAST_NOISE else _LEAST_NOISE,
        min(max(grid.tail + learn * (tail - known * grid.tail), 0.01), 0.3),
        ticks,
        grid.score + log(skipped * density),
        late,
        early,
        late_for,
        early_for,
        missing,
    )


def with_new_tempo(grid: Grid, sure: float, log_odds: float) -> Grid:
    """Return the grid with its period open again: standard error ``sure``, in seconds."""
    return _opened(grid, 0.0, sure * sure, log_odds)


def with_jump(grid: Grid, sure: float, log_odds: float) -> Grid:
    """Return the grid with its phase open again: standard error ``sure``, in seconds."""
    return _opened(grid, sure * sure, 0.0, log_odds)


def _opened(grid: Grid, tt: float, pp: float, log_odds: float) -> Grid:
    line = grid.calm
    line = line._replace(tt=line.tt + tt, pp=line.pp + pp)
    score = grid.score + log_odds
    return grid._replace(calm=line, moving=line, score=score, late=0.0, early=0.0, late_for=0, early_for=0)


def _mixed(grid: Grid) -> tuple[Line, Line, float]:
    """Let each line take its part of the other, as the odds of a change of mode have it."""
    calm, moving, share = grid.calm, grid.moving, grid.share
    to_moving = (1 - share) * _START_MOVING
    to_calm = share * _STOP_MOVING
    ahead = share - to_calm + to_moving
    time, period = moving.time - calm.time, moving.period - calm.period
    return (
        _blend(calm, moving, to_calm / (1 - ahead), time, period),
        _blend(moving, calm, to_moving / ahead, -time, -period),
        ahead,
    )


def _blend(line: Line, other: Line, part: float, time: float, period: float) -> Line:
    rest = part * (1 - part)
    return Line(
        line.time + part * time,
        line.period + part * period,
        line.tt + part * (other.tt - line.tt) + rest * time * time,
        line.tp + part * (other.tp - line.tp) + rest * time * period,
        line.pp + part * (other.pp - line.pp) + rest * period * period,
    )


def _ahead(line: Line, steps: int, walk: float) -> Line:
    """Carry the line ``steps`` ticks on; each step of the period moves the tick it leads to."""
    time, period, tt, tp, pp = line
    step = walk * period * period
    if steps == 1:
        return Line(time + period, period, tt + 2 * tp + pp + step, tp + pp + step, pp + step)
    sums = steps * (steps + 1) / 2
    squares = sums * (2 * steps + 1) / 3
    return Line(
        time + steps * period,
        period,
        tt + 2 * steps * tp + steps * steps * pp + squares * step,
        tp + steps * pp + sums * step,
        pp + steps * step,
    )


def _corrected(line: Line, at: float, noise: float) -> tuple[Line, float]:
    """Return the line after a tick at ``at`` of variance ``noise``, and its likelihood up to a factor."""
    time, period, tt, tp, pp = line
    off, total = at - time, tt + noise
    gain, turn = tt / total, tp / total
    period = min(max(period + turn * off, FASTEST), SLOWEST)
    after = Line(time + gain * off, period, tt - gain * tt, tp - gain * tp, pp - turn * tp)
    return after, exp(-0.5 * off * off / total) / sqrt(total)


def _belonging(
    off: float, spread: float, noise: float, tail_share: float, odds: float, late_by: float
) -> tuple[float, float, float]:
    """Return the odds that a residual belongs to core and tail, and its density, per second.

    ``odds`` are those of the tick's count; a tick that is merely late, by ``late_by``, is
    one that was due some time ago, be it this one or one that was skipped.
    """
    square, narrow, wide = -0.5 * off * off, spread + noise, spread + _TAIL * noise
    core = odds * (1 - tail_share) * exp(square / narrow) / sqrt(narrow)
    tail = odds * tail_share * exp(square / wide) / sqrt(wide)
    reach = late_by / _LATE_BY
    late = (_LATE if late_by > 0 else _EARLY) * _SQRT_2PI / _LATE_BY / (1 + reach * reach)
    total = core + tail + late + 1e-30
    return core / total, tail / total, total / _SQRT_2PI


def _leaning(grid: Grid, off: float) -> tuple[float, float, int, int]:
    clipped = min(max(off, -_CLIP), _CLIP)
    late, early = grid.late + clipped - _DRIFT, grid.early - clipped - _DRIFT
    return (
        late if late > 0 else 0.0,
        early if early > 0 else 0.0,
        grid.late_for + 1 if late > 0 else 0,
        grid.early_for + 1 if early > 0 else 0,
    )


def _odds(grid: Grid, steps: int) -> float:
    """Return the odds that a tick is ``steps`` on: counting is trusted most while little else is known."""
    if steps == 1:
        return 1.0
    miscount = _MISCOUNT * _MISCOUNT if grid.ticks < _NEW else _MISCOUNT
    return miscount * float(_ONE_MORE ** min(max(steps - 2, 0), 18))


def _likeliest_steps(grid: Grid, at: float) -> int:
    calm = grid.calm
    near = int((at - calm.time) / calm.period)
    return max({0, 1, max(near, 0), max(near + 1, 0)}, key=lambda steps: _likelihood(grid, at, steps))


def _likelihood(grid: Grid, at: float, steps: int) -> float:
    line = _ahead(grid.calm, steps, _CALM)
    off = at - line.time
    late_by = off if steps else at - grid.missing
    skipped = 1.0 if steps < 2 else _odds(grid, steps)
    return skipped * _belonging(off, line.tt, grid.noise, grid.tail, 1.0 if steps else _odds(grid, 0), late_by)[2]
