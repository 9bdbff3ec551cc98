"""Which units explain a stream: at known places, and by how fast it runs.

A place in bars is known in every unit once tempo and meter are.  A unit explains a stream
when it gives the right number at every known place and the right slope in every run; all
units that do are returned, since one tempo alone often leaves two (at 60 quarters a
minute quarters and seconds are the same).  Rates are whole numbers; one that is not usual
must fit to the last digit.  This file does not know addresses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from bridge.hostmap import Measure, Unit
from bridge.learn.spell import Round

__all__ = ["Point", "Run", "units_that_fit"]

_USUAL = {
    Measure.SAMPLES: (
        24, 25, 30, 50, 60, 100, 1000, 8000, 11025, 16000, 22050, 24000, 32000, 44100, 48000, 88200, 96000,
        176400, 192000,
    ),
    Measure.TICKS: (24, 48, 96, 120, 192, 240, 384, 480, 768, 960, 1920, 3840, 7680, 15360),
}  # fmt: skip
"""Rates in common use (common practice, no source); 1000 samples a second are milliseconds."""
_FASTEST = 10_000_000
_LOOSE_SECONDS = 0.005
"""How far a host's own rounding may put it off a place."""
_FINEST = 1e-9
_SLOPE = 0.01
_START_SECONDS = 0.35
"""How long after the start the first report of a run may come."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """The number ``value``, told in steps of ``step``, at the beginning of bar ``bar``."""

    bar: int
    round: Round
    value: float
    step: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A stretch of playing: units a second, their standard error, and the first number told in it."""

    bar: int | None
    """Where it started, if known."""
    round: Round
    slope: float
    error: float
    first: float
    gap: float
    """Seconds: the usual time between reports."""
    step: float


def units_that_fit(points: Sequence[Point], runs: Sequence[Run]) -> tuple[Unit, ...]:
    """Return all units that explain every point and every run; none without evidence of place."""
    points = [point for point in points if point.round.known]
    runs = [run for run in runs if run.round.known]
    if not any(point.bar > 1 for point in points) and not any(run.bar is not None for run in runs):
        return ()
    units = [Unit(measure) for measure in (Measure.QUARTERS, Measure.SECONDS, Measure.BARS)]
    units.append(Unit(Measure.WHOLE_NOTES))
    units += [unit for measure in _USUAL for unit in _rated(measure, points, runs)]
    fitting = [
        unit
        for unit in units
        if all(_fits_point(unit, point) for point in points) and all(_fits_run(unit, run) for run in runs)
    ]
    return tuple(fitting)


def value_at(unit: Unit, bar: int | Fraction, round_: Round) -> Fraction:
    """Return a host's number at the beginning of ``bar``, one tempo and meter from the start."""
    if unit.measure is Measure.BARS:
        return Fraction(bar)
    return (Fraction(bar) - 1) * round_.bar_quarters * _a_quarter(unit, round_)


def _a_quarter(unit: Unit, round_: Round) -> Fraction:
    """Return how many of ``unit`` a quarter note lasts."""
    if unit.of_time:
        return Fraction(60) / (round_.bpm or 120) * (unit.rate or 1)
    if unit.measure is Measure.BARS:
        return 1 / round_.bar_quarters
    if unit.measure is Measure.WHOLE_NOTES:
        return Fraction(1, 4)
    return Fraction(unit.rate or 1)


def a_second(unit: Unit, round_: Round) -> float:
    """Return how many of ``unit`` pass in a second."""
    return float(_a_quarter(unit, round_) * (round_.bpm or 120) / 60)


def _rated(measure: Measure, points: Sequence[Point], runs: Sequence[Run]) -> list[Unit]:
    """Return the rates worth trying: what the farthest place says, or the usual one nearest a slope."""
    far = max(points, key=lambda point: point.bar, default=None)
    if far is not None and far.bar > 1:
        base = value_at(Unit(measure, 1), far.bar, far.round)
        guess = round(Fraction(far.value) / base)
    elif runs:
        guess = round(runs[0].slope / a_second(Unit(measure, 1), runs[0].round))
    else:
        return []
    usual = min(_USUAL[measure], key=lambda rate: abs(rate - guess))
    rates = {usual} if far is None or far.bar <= 1 else {usual, guess}
    return [Unit(measure, rate) for rate in sorted(rates) if 2 <= rate <= _FASTEST]


def _fits_point(unit: Unit, point: Point) -> bool:
    expected = float(value_at(unit, point.bar, point.round))
    slack = 1e-9 + 4e-7 * abs(expected)
    if not _is_on_grid(expected, point.step):
        slack += point.step
    if not unit.rate or unit.rate in _USUAL[unit.measure]:
        slack += _LOOSE_SECONDS * a_second(unit, point.round)
    return abs(point.value - expected) <= slack


def _is_on_grid(value: float, step: float) -> bool:
    """Whether a number told in steps holds ``value`` exactly; finest steps count as none."""
    return step > _FINEST and abs(value / step - round(value / step)) < 1e-6


def _fits_run(unit: Unit, run: Run) -> bool:
    expected = a_second(unit, run.round)
    if abs(run.slope - expected) > _SLOPE * expected + 3 * run.error:
        return False
    if run.bar is None:
        return True
    ahead = run.first - float(value_at(unit, run.bar, run.round))
    return -run.step - 0.02 * expected <= ahead <= (_START_SECONDS + 2 * run.gap) * expected + run.step
