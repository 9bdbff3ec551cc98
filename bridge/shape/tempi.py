"""A wished range of tempi: every tempo of its grid, each with the best so far as a bound.

First every tempo is asked cheaply for a bound; then they are solved, the most promising
first, until what is left cannot come closer.  Of equally good plans the one whose total is
nearest its wish, then the slowest tempo.  This file knows nothing about how one tempo is
solved.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.plan.model import Plan, TempoRange
from bridge.shape.demands import hard_demands
from bridge.shape.effort import Effort
from bridge.shape.outcome import Solved
from bridge.shape.problem import Problem, pose
from bridge.shape.search import Result, search

__all__ = ["search_tempi"]

_BOUND_ONLY = Fraction(-1)
"""A ceiling below every cost: the search then ends with its first bound."""
_POSING = 200
"""Steps that posing the problem at one tempo is counted as, for each section."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tempo:
    """One tempo of the grid, and what no plan at it can be cheaper than."""

    bpm: Fraction
    problem: Problem
    bound: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """A plan at a tempo: the less of ``key``, the better."""

    bpm: Fraction
    bars: tuple[int, ...]
    cost: Fraction
    off: Fraction

    @property
    def key(self) -> tuple[Fraction, Fraction, Fraction]:
        """What it costs, how far its total is off, how fast it is."""
        return self.cost, self.off, self.bpm

    def is_better_than_any_at(self, tempo: _Tempo) -> bool:
        """Whether no plan at ``tempo`` can be better."""
        return self.key <= (tempo.bound, Fraction(0), tempo.bpm)


def search_tempi(plan: Plan, wished: TempoRange, effort: Effort) -> tuple[Solved | None, bool]:
    """Return the best plan at any tempo of the range, and whether there is proven to be none at all."""
    open_ = _bounded(plan, wished, effort)
    best: _Found | None = None
    for share in (2, 1):
        left: list[_Tempo] = []
        for tempo in sorted(open_, key=lambda one: (one.bound, one.bpm)):
            if best is not None and best.is_better_than_any_at(tempo):
                continue
            found, rest = _solved(tempo, best, effort, share)
            best = min(filter(None, (best, found)), key=lambda one: one.key, default=None)
            left += [] if rest is None else [rest]
        open_ = left
    if best is None:
        return None, not open_
    bound = min([best.cost, *(tempo.bound for tempo in open_ if not best.is_better_than_any_at(tempo))])
    return Solved(bars=best.bars, cost=best.cost, bound=bound, tempo=best.bpm), False


def _bounded(plan: Plan, wished: TempoRange, effort: Effort) -> list[_Tempo]:
    """Ask every tempo for a bound; those are left out where nothing is proven to fit."""
    found = []
    for bpm in wished.grid:
        at = plan.at_tempo(bpm)
        effort.take(_POSING * len(at.sections))
        problem = pose(at, hard_demands(at))
        result = search(problem, effort, ceiling=_BOUND_ONLY)
        if not result.is_impossible:
            found.append(_Tempo(bpm=bpm, problem=problem, bound=result.bound or Fraction(0)))
    return found


def _solved(
    tempo: _Tempo, best: _Found | None, effort: Effort, share: int
) -> tuple[_Found | None, _Tempo | None]:
    """Solve at one tempo: the plan found, if any, and the tempo again where the proof is missing."""
    if effort.is_spent and best is not None:
        return None, tempo
    part = effort.part(share)
    result = search(tempo.problem, part, ceiling=None if best is None else best.cost)
    effort.take(part.taken)
    if result.is_impossible:
        return None, None
    bound = max(tempo.bound, result.bound or Fraction(0))
    found = _found(tempo, result)
    is_done = result.bound is not None and (result.cost is None or result.cost == result.bound)
    return found, None if is_done else replace(tempo, bound=bound)


def _found(tempo: _Tempo, result: Result) -> _Found | None:
    if result.bars is None or result.cost is None:
        return None
    problem = tempo.problem
    seconds = sum(piece.seconds(bars) for piece, bars in zip(problem.pieces, result.bars, strict=True))
    off = abs(seconds - problem.goal.about) if problem.has_total else 0
    return _Found(
        bpm=tempo.bpm, bars=result.bars, cost=result.cost, off=Fraction(off, problem.scale.per_second)
    )
