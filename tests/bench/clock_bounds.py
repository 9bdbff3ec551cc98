"""What no follower can beat, and what followers usually do: for ``bench_clock.py``.

The posterior bound is that of a tempo that walks by 0.1 % a beat in steps a tick, seen
through the stated jitter: the steady covariance of the matched Kalman filter, which is
the bound for gaussian jitter (Tichavsky, Muravchik and Nehorai 1998).  For jitter of
another shape the same recursion runs on the jitter's Fisher information: 10/7 over the
variance for Student's t with four degrees of freedom at unit variance; a uniform has
none that is finite, so there the bound is that of the best linear follower.
"""

from __future__ import annotations

import math
from collections import deque

from tests.follow.simulate import WALK

INFORMATION = {"gaussian": 1.0, "uniform": 1.0, "heavy": 10 / 7}
"""Fisher information of one tick's jitter at unit variance."""


def posterior_bound(period: float, sigma: float, *, information: float = 1.0, walk: float = WALK) -> float:
    """Return the least standard error of the newest tick's time, in seconds."""
    noise, step = sigma * sigma / information, (walk * period) ** 2
    tt, tp, pp = noise, 0.0, (0.01 * period) ** 2
    for _ in range(5000):
        tt, tp, pp = tt + 2 * tp + pp + step, tp + pp + step, pp + step
        gain, turn = tt / (tt + noise), tp / (tt + noise)
        tt, tp, pp = tt - gain * tt, tp - gain * tp, pp - turn * tp
    return math.sqrt(tt)


def line_bound(ticks: int, sigma: float) -> float:
    """Return the least standard error of the newest of ``ticks`` ticks at a constant tempo (Kay 1993)."""
    return sigma * math.sqrt(2 * (2 * ticks - 1) / (ticks * (ticks + 1)))


class LastTick:
    """The usual follower: the last tick, and the mean of the last 24 periods; it counts."""

    def __init__(self) -> None:
        self.number, self._recent = -1, deque(maxlen=25)

    def tick(self, at: float) -> None:
        self.number += 1
        self._recent.append(at)

    def ticks_at(self, at: float) -> float:
        if len(self._recent) < 2:
            return self.number
        period = (self._recent[-1] - self._recent[0]) / (len(self._recent) - 1)
        return self.number + (at - self._recent[-1]) / period


class LeastSquares:
    """A straight line through the last 24 ticks; it counts."""

    def __init__(self) -> None:
        self.number, self._recent = -1, deque(maxlen=24)

    def tick(self, at: float) -> None:
        self.number += 1
        self._recent.append(at)

    def ticks_at(self, at: float) -> float:
        count = len(self._recent)
        if count < 2:
            return self.number
        middle, mean = (count - 1) / 2, sum(self._recent) / count
        slope = sum((n - middle) * (time - mean) for n, time in enumerate(self._recent))
        period = slope / (count * (count * count - 1) / 12)
        return self.number + (at - mean - period * middle) / period


class FixedKalman:
    """A Kalman filter told the right jitter and walk, without a guard; it counts."""

    def __init__(self, sigma: float) -> None:
        self.number, self._noise = -1, sigma * sigma
        self._time = self._period = 0.0
        self._tt = self._tp = self._pp = 0.0

    def tick(self, at: float) -> None:
        self.number += 1
        if self.number == 0:
            self._time, self._tt = at, self._noise
            return
        if self.number == 1:
            self._period, self._time = at - self._time, at
            self._tt, self._tp, self._pp = self._noise, self._noise, 2 * self._noise
            return
        step = (WALK * self._period) ** 2
        tt = self._tt + 2 * self._tp + self._pp + step
        tp, pp = self._tp + self._pp + step, self._pp + step
        off = at - self._time - self._period
        gain, turn = tt / (tt + self._noise), tp / (tt + self._noise)
        self._time, self._period = self._time + self._period + gain * off, self._period + turn * off
        self._tt, self._tp, self._pp = tt - gain * tt, tp - gain * tp, pp - turn * tp

    def ticks_at(self, at: float) -> float:
        return self.number + (at - self._time) / self._period if self._period > 0 else float(self.number)


class Oracle(FixedKalman):
    """The same, told the instant of a tempo step: there its period is open again."""

    def __init__(self, sigma: float, step_at: float) -> None:
        super().__init__(sigma)
        self._step_at: float | None = step_at

    def tick(self, at: float) -> None:
        if self._step_at is not None and at > self._step_at + 0.6 * self._period:
            self._pp += (0.3 * self._period) ** 2
            self._step_at = None
        super().tick(at)
