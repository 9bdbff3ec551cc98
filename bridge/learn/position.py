"""The position: the number that stands while the host stands and runs while it runs.

It has to be at the right place for a bar the host was moved to, and to run at the right
speed: a place alone could be an edit cursor, a slope alone a clock.  This file knows
nothing about files or the terminal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from statistics import median

from bridge.hostmap import Heard, Measure, Unit
from bridge.learn.finding import Confidence, Finding, Missing
from bridge.learn.spell import Spell
from bridge.learn.stream import Stream
from bridge.learn.units import Point, Run, a_second, units_that_fit

__all__ = ["find_position", "stands_and_runs"]

_FEWEST = 6
_LEAST_SPAN = 1.0
_STRAIGHT_SECONDS = 0.08
"""How far reports may lie off a straight line, root mean square."""
_COARSE_SECONDS = 0.3
"""A position told in longer steps cannot be followed."""


@dataclass(frozen=True, slots=True)
class _Candidate:
    stream: Stream
    points: tuple[Point, ...]
    runs: tuple[Run, ...]
    units: tuple[Unit, ...]

    @property
    def step_seconds(self) -> float:
        return self.stream.step / abs(self.runs[0].slope)

    @property
    def tempi(self) -> int:
        return len({run.round.bpm for run in self.runs} & {point.round.bpm for point in self.points})

    @property
    def may_count_beats(self) -> bool:
        """Whether its quarters may be the meter's lower number: only fourths were seen."""
        musical = self.units[0].measure in (Measure.QUARTERS, Measure.TICKS)
        return musical and all(run.round.meter is None or run.round.meter.unit == 4 for run in self.runs)


def find_position(streams: Sequence[Stream], spells: Sequence[Spell]) -> Finding:
    """Find the position among ``streams``; a finding without a line where none or several units fit."""
    running = [found for stream in streams if (found := _examine(stream, spells))]
    explained = [one for one in running if one.units]
    fine = [one for one in explained if one.step_seconds <= _COARSE_SECONDS]
    if not fine:
        return _none(running, explained, spells)
    clear = [one for one in fine if len(one.units) == 1]
    if not clear:
        return _several(fine[0])
    best = min(clear, key=_rank)
    return Finding(
        key="position",
        heard=Heard(address=best.stream.address, args={"value": best.stream.arg}, unit=best.units[0]),
        evidence=_evidence(best),
        confidence=Confidence.SURE if best.tempi >= 2 and not best.may_count_beats else Confidence.FAIR,
        rivals=tuple(_name(one) for one in explained if one is not best),
    )


def stands_and_runs(stream: Stream, spells: Sequence[Spell]) -> tuple[Run, ...]:
    """Return the stream's runs if it runs in every spell of playing and stands in all others, else none."""
    runs: list[Run] = []
    for spell in spells:
        if spell.playing:
            run = _run(stream, spell)
            if run is None:
                return ()
            runs.append(run)
        elif not _stands(stream, spell):
            return ()
    return tuple(runs)


def _examine(stream: Stream, spells: Sequence[Spell]) -> _Candidate | None:
    runs = stands_and_runs(stream, spells)
    if not runs:
        return None
    points = tuple(point for spell in spells if (point := _point(stream, spell)))
    return _Candidate(stream, points, runs, units_that_fit(points, runs))


def _stands(stream: Stream, spell: Spell) -> bool:
    values = [value for _, value in stream.between(spell.calm, spell.end)]
    return not values or max(values) - min(values) <= 1e-6 * max(map(abs, values))


def _point(stream: Stream, spell: Spell) -> Point | None:
    """Return where the stream stood in a spell whose place is known, if it told it since it was asked."""
    if spell.playing or spell.bar is None or spell.step != "bar":
        return None
    told = stream.between(spell.asked, spell.end)
    if not told:
        return None
    return Point(bar=spell.bar, round=spell.round, value=told[-1][1], step=stream.step)


def _run(stream: Stream, spell: Spell) -> Run | None:
    rows = stream.between(spell.calm, spell.end)
    if len(rows) < _FEWEST or rows[-1][0] - rows[0][0] < _LEAST_SPAN:
        return None
    slope, error, spread = _line(rows)
    if slope <= 0 or spread > _STRAIGHT_SECONDS * slope + stream.step:
        return None
    if _falls(rows, slope):
        return None
    gaps = [after - before for (before, _), (after, _) in pairwise(rows)]
    return Run(
        bar=spell.bar,
        round=spell.round,
        slope=slope,
        error=error,
        first=_first_moved(stream, spell),
        gap=median(gaps),
        step=stream.step,
    )


def _first_moved(stream: Stream, spell: Spell) -> float:
    """Return the first number told after the start that is not the one it stood at."""
    standing = stream.before(spell.asked)
    told = [value for _, value in stream.between(spell.asked, spell.end)]
    return next((value for value in told if value != standing), told[0])


def _falls(rows: Sequence[tuple[float, float]], slope: float) -> bool:
    """Tell whether it goes back by more than packets out of order explain."""
    return any(before - after > _STRAIGHT_SECONDS * slope for (_, before), (_, after) in pairwise(rows))


def _line(rows: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    """Fit a line by least squares: slope, its standard error, and the spread about it."""
    count = len(rows)
    middle, mean = sum(at for at, _ in rows) / count, sum(value for _, value in rows) / count
    width = sum((at - middle) ** 2 for at, _ in rows)
    slope = sum((at - middle) * (value - mean) for at, value in rows) / width
    left = sum((value - mean - slope * (at - middle)) ** 2 for at, value in rows)
    return slope, sqrt(left / (count - 2) / width), sqrt(left / count)


def _rank(one: _Candidate) -> tuple[object, ...]:
    """Musical units first (a change of tempo does not move them), then the finer, then the oftener told."""
    unit = one.units[0]
    return (
        unit.of_time,
        unit.measure is Measure.BARS,
        one.step_seconds > 0.02,
        -len(one.stream.at),
        one.stream.key,
    )


def _evidence(one: _Candidate) -> str:
    unit, run = one.units[0], one.runs[0]
    places = ", ".join(f"{point.value:.10g} at bar {point.bar}" for point in one.points)
    speeds = ", ".join(
        f"{run.slope:.6g} a second at {float(run.round.bpm or 0):g} bpm ({a_second(unit, run.round):.6g} due)"
        for run in one.runs
    )
    beats = "seen only where a beat is a quarter" if one.may_count_beats else ""
    told = f"told about {1 / run.gap:.0f} times a second" if run.gap > 0 else "told in bursts"
    parts = (f"stands when stopped: {places}" if places else "", speeds, told, beats)
    return "; ".join(part for part in parts if part)


def _name(one: _Candidate) -> str:
    return f"{_where(one)} ({' or '.join(map(str, one.units))})"


def _where(one: _Candidate) -> str:
    return f"{one.stream.address} argument {one.stream.arg}"


def _several(one: _Candidate) -> Finding:
    units = " and ".join(map(str, one.units))
    return Finding(
        key="position",
        heard=None,
        evidence=f"{_where(one)} runs as {units} would: one tempo cannot tell",
        rivals=(_name(one),),
        missing=Missing.TEMPO,
    )


def _none(running: list[_Candidate], explained: list[_Candidate], spells: Sequence[Spell]) -> Finding:
    """Say why there is none, and what would help."""
    missing: Missing | None = None
    if not any(spell.playing for spell in spells):
        why, missing = "the host was not seen playing", Missing.PLAY
    elif not any(not spell.playing for spell in spells):
        why, missing = "the host was not seen standing", Missing.PLAY
    elif explained:
        why = f"{_name(explained[0])} has steps of {explained[0].step_seconds:.2g} s: too coarse to follow"
    elif not running:
        why = "no number stands while the host stands and runs steadily while it plays"
    elif not all(spell.round.known for spell in spells if spell.playing):
        why, missing = "something runs with the host, but tempo and meter were not told", Missing.TEMPO
    elif not any(spell.bar is not None for spell in spells):
        why, missing = "something runs with the host, but it was not moved to a known bar", Missing.PLACE
    else:
        why = f"{_runs_oddly(running[0])}: no unit of a host map"
    return Finding(key="position", heard=None, evidence=why, missing=missing)


def _runs_oddly(one: _Candidate) -> str:
    places = (
        ", ".join(f"{point.value:.10g} at bar {point.bar}" for point in one.points) or "nothing when moved"
    )
    return f"{_where(one)} runs with the host by {one.runs[0].slope:.6g} a second and tells {places}"
