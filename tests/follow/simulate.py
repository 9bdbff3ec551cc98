"""A host's MIDI clock as it arrives, everything that goes wrong included; seeded.

The truth is known beside it, so that a follower can be held against it.  Used by the
tests and by ``tests/bench/bench_clock.py``.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field

WALK = 0.001 / math.sqrt(24)
"""Relative step of the period per tick: a tempo that walks by 0.1 % a beat."""

Noise = Callable[[random.Random], float]
"""Draws one jitter of mean 0 and standard deviation 1."""


def gaussian(rng: random.Random) -> float:
    return rng.gauss(0.0, 1.0)


def uniform(rng: random.Random) -> float:
    return rng.uniform(-math.sqrt(3), math.sqrt(3))


def heavy(rng: random.Random) -> float:
    """Student's t with 4 degrees of freedom, scaled to standard deviation 1."""
    chi = sum(rng.gauss(0.0, 1.0) ** 2 for _ in range(4))
    return rng.gauss(0.0, 1.0) * math.sqrt(4 / chi) / math.sqrt(2)


NOISES: dict[str, Noise] = {"gaussian": gaussian, "uniform": uniform, "heavy": heavy}


@dataclass
class Concert:
    """True times of the ticks, and the arrivals that came of them, in order."""

    times: list[float]
    arrivals: list[float] = field(default_factory=list)

    def ticks_at(self, at: float) -> float:
        """The true place, in ticks since the first, linear between ticks."""
        n = min(max(bisect_right(self.times, at) - 1, 0), len(self.times) - 2)
        return n + (at - self.times[n]) / (self.times[n + 1] - self.times[n])

    def period_at(self, at: float) -> float:
        n = min(max(bisect_right(self.times, at) - 1, 0), len(self.times) - 2)
        return self.times[n + 1] - self.times[n]


def walking(rng: random.Random, *, bpm: float, seconds: float, walk: float = WALK) -> list[float]:
    """Tick times of a tempo that walks by ``walk`` of its period a tick."""
    period, now, times = 2.5 / bpm, 0.0, [0.0]
    while now < seconds:
        period *= 1 + rng.gauss(0.0, walk)
        now += period
        times.append(now)
    return times


def stepping(*, bpm: float, seconds: float, step_at: float, ratio: float) -> list[float]:
    """Tick times of a constant tempo that is multiplied by ``ratio`` at the first tick from ``step_at``."""
    now, times = 0.0, [0.0]
    while now < seconds:
        now += 2.5 / bpm / (ratio if now >= step_at else 1.0)
        times.append(now)
    return times


def ramping(*, bpm: float, seconds: float, ramp_from: float, ramp_to: float, rate: float) -> list[float]:
    """Tick times of a tempo that changes by ``rate`` bpm a second between two instants."""

    def ticks(t: float) -> float:
        inside = min(max(t - ramp_from, 0.0), ramp_to - ramp_from)
        after = max(t - ramp_to, 0.0)
        beats = bpm * t + rate * inside * inside / 2 + rate * (ramp_to - ramp_from) * after
        return beats / 2.5

    times, now = [0.0], 0.0
    while now < seconds:
        target, now = len(times), now + 2.5 / bpm
        for _ in range(30):
            slope = (ticks(now + 1e-6) - ticks(now - 1e-6)) / 2e-6
            now -= (ticks(now) - target) / slope
        times.append(now)
    return times


def arriving(
    rng: random.Random,
    times: list[float],
    *,
    sigma: float,
    noise: Noise = gaussian,
    late: float = 0.0,
    lost: float = 0.0,
    doubled: float = 0.0,
    late_by: tuple[float, float] = (0.005, 0.03),
    silent: tuple[float, float] | None = None,
) -> Concert:
    """Let the ticks arrive: jitter ``sigma``, shares of late, lost and doubled ones, a dropout.

    The first tick is neither lost nor late: nobody could tell that it was.
    """
    arrivals = []
    for time in times:
        if (rng.random() < lost and time > times[0]) or (silent and silent[0] <= time < silent[1]):
            continue
        at = time + sigma * noise(rng)
        if rng.random() < late and time > times[0]:
            at += rng.uniform(*late_by)
        arrivals.append(at)
        if rng.random() < doubled:
            arrivals.append(at + abs(rng.gauss(0.0, 0.0005)))
    arrivals.sort()
    return Concert(times=times, arrivals=arrivals)
