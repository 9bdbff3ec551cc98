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

__all__ = [
    "FASTEST",
    "SLOWEST",
    "WALK",
    "Grid",
    "Line",
    "first_grid",
    "observe",
    "rival_steps",
    "with_jump",
    "with_new_tempo",
]

FASTEST, SLOWEST = 2.5 / 1000, 2.5 / 1
"""The least and the greatest period: 1000 and 1 quarter notes a minute."""

WALK = 0.001 / sqrt(24)
"""Relative step of the period per tick: a tempo that walks by 0.1 % a beat."""

_CALM = WALK**2
_MOVING = 64 * _CALM
_START_MOVING = 0.0005
_STOP_MOVING = 0.01

_TAIL = 9.0
"""The tail's variance over the core's."""
_LATE = 0.01
"""The share of ticks that are late for no reason the jitter explains ..."""
_LATE_BY = 0.02
"""... and by how much, in seconds; falling off fast beyond."""
_EARLY = 0.0003
_OVERDUE = 0.5 / _LATE
"""How much likelier a late tick is once one has been skipped: it is lost, or still to come."""
_PLAIN = 0.3
"""Of a period: a tick no farther off than this is the next one, without weighing."""
_LONG = 18
"""More ticks missing than this are no less likely."""
_LEAST_TAIL, _MOST_TAIL = 0.01, 0.3
_WEIGHTLESS = 1e-9
_TINY = 1e-300
_SQRT_2PI = sqrt(2 * pi)
_LEARN = 1 / 160
_LEAST_NOISE = 1e-5**2
_MISCOUNT = 0.004
"""The odds of a tick lost, or doubled."""
_ONE_MORE = 0.8
_NEW = 32
"""Ticks: before so many, a miscount is believed only on strong evidence."""
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
    """All that is known after a tick; ``number`` is that of the tick that the lines stand on."""

    number: int
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
    """When the tick skipped last was due; it may yet come late.  Minus infinity: none is missing."""
    owed: int
    """How many skipped ticks may yet come."""
    """For how many ticks each sum has been above zero."""

    @property
    def time(self) -> float:
        """When tick ``number`` was due."""
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
    def period_error(self) -> float:
        """The standard error of ``period``, in seconds."""
        apart = self.moving.period - self.calm.period
        spread = self.share * (1 - self.share) * apart * apart
        return sqrt(self.calm.pp + self.share * (self.moving.pp - self.calm.pp) + spread)

    @property
    def jitter(self) -> float:
        """The standard deviation of the jitter as learnt, late ticks apart, in seconds."""
        return sqrt(self.noise * (1 + self.tail * (_TAIL - 1)))


def first_grid(number: int, at: float, period: float, *, sure: float, noise: float) -> Grid:
    """Begin at a tick that came at ``at``; ``sure`` is the period's standard error."""
    line = Line(at, period, noise, 0.0, sure * sure)
    return Grid(number, line, line, 0.1, noise, 0.02, 1, 0.0, 0.0, 0.0, 0, 0, -inf, 0)


def observe(grid: Grid, at: float, steps: int | None = None) -> Grid:
    """Take the tick that came at ``at``; it is ``steps`` after the newest, by likelihood unless given."""
    if steps is None:
        ahead = at - grid.calm.time - grid.calm.period
        steps = 1 if abs(ahead) < _PLAIN * grid.calm.period else _likeliest_steps(grid, at)
    calm, moving, share = _carried(grid, steps)
    off = at - calm.time - share * (moving.time - calm.time)
    spread = calm.tt + share * (moving.tt - calm.tt)
    core, tail, density = _belonging(grid, off, spread, steps, off if steps else at - grid.missing)

    weight = (core + tail / _TAIL) / grid.noise
    if weight * spread > _WEIGHTLESS:
        calm, calm_fit = _corrected(calm, at, 1 / weight)
        moving, moving_fit = _corrected(moving, at, 1 / weight)
        share = 1 / (1 + (1 - share) * calm_fit / (share * moving_fit + _TINY))
    left = at - calm.time - share * (moving.time - calm.time)
    noise, tail_share = _learnt(grid, core, tail, left * left + calm.tt + share * (moving.tt - calm.tt))
    late, early, late_for, early_for = _leaning(grid, off / sqrt(spread + noise))
    missing, owed = _still_missing(grid, steps)
    return Grid(
        grid.number + steps,
        calm,
        moving,
        share,
        noise,
        tail_share,
        grid.ticks + 1,
        grid.score + log(density),
        late,
        early,
        late_for,
        early_for,
        missing,
        owed,
    )


def rival_steps(grid: Grid, at: float, within: float) -> int | None:
    """Return the steps that are next likeliest for the tick at ``at``; None where the odds are clear.

    Clear: more than e to the ``within`` against them.
    """
    if abs(at - grid.calm.time - grid.calm.period) < _PLAIN * grid.calm.period:
        return None
    best, rival = sorted(
        ((_likelihood(grid, at, steps), steps) for steps in _steps_to_weigh(grid, at)), reverse=True
    )[:2]
    return rival[1] if rival[0] > best[0] * exp(-within) else None


def with_new_tempo(grid: Grid, sure: float, log_odds: float) -> Grid:
    """Return the grid with its period open again: standard error ``sure``, in seconds."""
    return _opened(grid, 0.0, sure * sure, log_odds)


def with_jump(grid: Grid, sure: float, log_odds: float) -> Grid:
    """Return the grid with its phase open again: standard error ``sure``, in seconds."""
    return _opened(grid, sure * sure, 0.0, log_odds)


def with_period(grid: Grid, ratio: float) -> Grid:
    """Return the grid with its period multiplied by ``ratio``, its errors with it."""
    if ratio == 1.0:
        return grid
    calm, moving = (
        line._replace(period=line.period * ratio, tp=line.tp * ratio, pp=line.pp * ratio * ratio)
        for line in (grid.calm, grid.moving)
    )
    return grid._replace(calm=calm, moving=moving)


def _opened(grid: Grid, tt: float, pp: float, log_odds: float) -> Grid:
    line = grid.calm
    line = line._replace(tt=line.tt + tt, pp=line.pp + pp)
    score = grid.score + log_odds
    return grid._replace(calm=line, moving=line, score=score, late=0.0, early=0.0, late_for=0, early_for=0)


def _carried(grid: Grid, steps: int) -> tuple[Line, Line, float]:
    """Carry both lines ``steps`` ticks on, each with its part of the other: the mode may have changed."""
    calm, moving, share = grid.calm, grid.moving, grid.share
    to_moving = (1 - share) * _START_MOVING
    to_calm = share * _STOP_MOVING
    ahead = share - to_calm + to_moving
    return (
        _ahead(calm, moving, to_calm / (1 - ahead), steps, _CALM),
        _ahead(moving, calm, to_moving / ahead, steps, _MOVING),
        ahead,
    )


def _ahead(line: Line, other: Line, part: float, steps: int, walk: float) -> Line:
    """Blend ``part`` of ``other`` into ``line``; carry it on by ``steps`` of the period, which walks."""
    time, period, tt, tp, pp = line
    off, faster = other.time - time, other.period - period
    rest = part * (1 - part)
    time += part * off
    period += part * faster
    tt += part * (other.tt - tt) + rest * off * off
    tp += part * (other.tp - tp) + rest * off * faster
    pp += part * (other.pp - pp) + rest * faster * faster
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
    period += turn * off
    if not FASTEST <= period <= SLOWEST:
        period = min(max(period, FASTEST), SLOWEST)
    after = Line(time + gain * off, period, tt - gain * tt, tp - gain * tp, pp - turn * tp)
    return after, exp(-0.5 * off * off / total) / sqrt(total)


def _belonging(
    grid: Grid, off: float, spread: float, steps: int, late_by: float
) -> tuple[float, float, float]:
    """Return the odds that a residual belongs to core and tail, and its density, per second.

    A tick that is merely late, by ``late_by``, is one that was due some time ago, be it
    this one or one that was skipped; that is one misfortune, not two.
    """
    noise, tail_share = grid.noise, grid.tail
    square, narrow, wide = -0.5 * off * off, spread + noise, spread + _TAIL * noise
    core = (1 - tail_share) * exp(square / narrow) / sqrt(narrow)
    tail = tail_share * exp(square / wide) / sqrt(wide)
    far = 1 + (late_by / _LATE_BY) ** 2
    late = (_LATE if late_by > 0 else _EARLY) * _SQRT_2PI / _LATE_BY / (far * far)
    if steps != 1:
        odds = _odds(grid, steps)
        core, tail, late = core * odds, tail * odds, late * (odds if steps else _OVERDUE)
    total = core + tail + late + _TINY
    return core / total, tail / total, total / _SQRT_2PI


def _learnt(grid: Grid, core: float, tail: float, seen: float) -> tuple[float, float]:
    """Return the core's variance and the tail's share, moved a little towards what was ``seen``."""
    rate = max(_LEARN, 1 / (grid.ticks + 7))
    known = core + tail
    noise = grid.noise + rate * ((core + tail / _TAIL) * seen - known * grid.noise)
    tail_share = grid.tail + rate * (tail - known * grid.tail)
    if not _LEAST_TAIL <= tail_share <= _MOST_TAIL:
        tail_share = min(max(tail_share, _LEAST_TAIL), _MOST_TAIL)
    return max(noise, _LEAST_NOISE), tail_share


def _still_missing(grid: Grid, steps: int) -> tuple[float, int]:
    """Return when the tick skipped last was due, and how many are owed, after one ``steps`` on."""
    if steps > 1:
        return grid.calm.time + (steps - 1) * grid.calm.period, steps - 1
    if steps == 1 or grid.owed > 1:
        return grid.missing, grid.owed - (steps == 0)
    return -inf, 0


def _leaning(grid: Grid, off: float) -> tuple[float, float, int, int]:
    """Return the cumulative sums after a residual of ``off`` standard deviations, and their lengths."""
    if not -_CLIP <= off <= _CLIP:
        off = _CLIP if off > 0 else -_CLIP
    late, early = grid.late + off - _DRIFT, grid.early - off - _DRIFT
    return (
        late if late > 0 else 0.0,
        early if early > 0 else 0.0,
        grid.late_for + 1 if late > 0 else 0,
        grid.early_for + 1 if early > 0 else 0,
    )


def _odds(grid: Grid, steps: int) -> float:
    """Return the odds that a tick is not one but ``steps`` on; counting is trusted most at first."""
    miscount = _MISCOUNT if grid.ticks >= _NEW else _MISCOUNT * _MISCOUNT
    return miscount * float(_ONE_MORE ** min(max(steps - 2, 0), _LONG))


def _likeliest_steps(grid: Grid, at: float) -> int:
    return max(_steps_to_weigh(grid, at), key=lambda steps: _likelihood(grid, at, steps))


def _steps_to_weigh(grid: Grid, at: float) -> set[int]:
    near = int((at - grid.calm.time) / grid.calm.period)
    return {0, 1, max(near, 0), max(near + 1, 0)}


def _likelihood(grid: Grid, at: float, steps: int) -> float:
    line = _ahead(grid.calm, grid.calm, 0.0, steps, _CALM)
    off = at - line.time
    return _belonging(grid, off, line.tt, steps, off if steps else at - grid.missing)[2]
