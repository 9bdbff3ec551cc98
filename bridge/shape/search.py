"""The whole song: the proven best choice of every section's length.

How the proof goes.  Put a price on every second of song and charge each section
``cost - price·seconds``, and the total ``its cost + price·seconds``: for any plan the
prices cancel, so nothing changes.  The least each block can be charged, plus the least
the total can be, is then a lower bound for every plan, and a plan costs that bound plus
its *regrets*: what each block and the total are charged above their least.  Regrets are
never negative.  So whoever looks at all choices whose regrets add up to no more than a
reach, and finds a plan there, has the best: any other has more regret.  The reach
starts small and grows.  Where room or steps run out, what was left out has a least
regret too, and the bound plus that is what is proven.

This file knows nothing about why nothing fits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import reduce

from bridge.errors import InternalError
from bridge.shape.blocks import Block, Cheapest
from bridge.shape.effort import Effort
from bridge.shape.matching import Finish, Match, matched
from bridge.shape.numbers import Exact, array
from bridge.shape.prices import best_price, points_of_piece, points_of_table
from bridge.shape.problem import Problem, within
from bridge.shape.tables import Table, joined
from bridge.shape.window import Price

__all__ = ["Result", "cost_of", "search"]

_PRICES = 4
"""Prices tried at most after the first; each needs the blocks' tables once more."""
_ATTEMPT = 2
"""One search at one price may take this share of the steps that are left: a half."""
_FINEST = 1000
"""The largest bottom of a price tried between two others."""
_FIRST_REACH = 2
"""The first reach is one second of regret over this."""
_GROWTH = 4
_FARTHEST = 10**5
"""Seconds of regret: beyond it there is no use in widening what room had to be cut."""
_STAGE = 1000
"""Steps that beginning a stage is counted as, for each block."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What a search came to: a plan and a proven bound, or that there is none, or neither."""

    bars: tuple[int, ...] | None = None
    cost: Fraction | None = None
    bound: Fraction | None = None
    off: int = 0
    """How far the total is off its wish, in units."""
    is_impossible: bool = False

    @property
    def is_proven(self) -> bool:
        """Whether there is a plan, and none cheaper."""
        return self.cost is not None and self.cost == self.bound


def search(
    problem: Problem, effort: Effort, *, any_plan: bool = False, ceiling: Fraction | None = None
) -> Result:
    """Return the best plan, and what is proven; ``any_plan`` is content with the first one found.

    Nothing that costs more than the ``ceiling`` is looked for: once it is proven that all
    plans do, only a bound comes back.
    """
    if problem.is_empty:
        return Result(is_impossible=True)
    priced = _Priced(problem, Fraction(0), effort)
    ended = _ended(priced, ceiling)
    if ended is not None:
        return ended
    free = priced.free_plan()
    if free is not None:
        if any_plan or not problem.has_total:
            return free
        priced.problem = _narrowed(problem, free)
    attempts = _best_first(priced, effort)
    ended = _ended(attempts[0], ceiling)
    if ended is not None:
        return ended
    best = Result()
    for attempt in attempts:
        with effort.share(_ATTEMPT):
            best = _better(best, _widened(attempt, effort, any_plan=any_plan))
        if best.is_impossible or best.is_proven or (any_plan and best.bars) or effort.is_spent:
            break
    return best


def _ended(priced: _Priced, ceiling: Fraction | None) -> Result | None:
    """Return the result where there is nothing left to look for: no way, or none below the ceiling."""
    if priced.failed is not None:
        return priced.failed
    if ceiling is not None and priced.proven(0) > ceiling:
        return Result(bound=priced.proven(0))
    return None


def _better(one: Result, other: Result) -> Result:
    """Return what two searches of one problem come to together."""
    if one.cost is None or one.bound is None or other.cost is None or other.bound is None:
        return one if other.cost is None and not other.is_impossible else other
    cheaper = other if (other.cost, other.off) < (one.cost, one.off) else one
    return replace(cheaper, bound=max(one.bound, other.bound))


def cost_of(problem: Problem, bars: Sequence[int]) -> Fraction:
    """Return what a plan costs, in weighted seconds, from the definition."""
    pieces, goal, scale = problem.pieces, problem.goal, problem.scale
    total = sum(piece.seconds(count) for piece, count in zip(pieces, bars, strict=True))
    cost: Exact = sum((piece.cost(count) for piece, count in zip(pieces, bars, strict=True)), 0)
    if problem.has_total:
        cost += goal.weight * abs(total - goal.about)
    return Fraction(cost) / (scale.per_second * scale.per_weight)


def _narrowed(problem: Problem, plan: Result) -> Problem:
    """Leave out totals so far off their wish that this alone costs more than ``plan``."""
    goal, scale = problem.goal, problem.scale
    if plan.cost is None or not goal.weight:
        return problem
    far = int(plan.cost * scale.per_second * scale.per_weight / goal.weight)
    low, high = max(goal.low, goal.about - far), min(goal.high, goal.about + far)
    return within(problem, replace(goal, low=low, high=high))


class _Priced:
    """All blocks at one price, each with its cheapest way."""

    def __init__(
        self, problem: Problem, price: Fraction, effort: Effort, like: _Priced | None = None
    ) -> None:
        self.problem = problem
        self.price = Price.of(price, problem.scale)
        self.finish = Finish(goal=problem.goal, price=self.price)
        self.blocks = [Block(problem, sections, self.price, effort) for sections in problem.blocks]
        self.cheapest: list[Cheapest] = []
        self.failed: Result | None = None
        for at, block in enumerate(self.blocks):
            likely = like.cheapest[at].regret * self.second // like.second if like else 0
            found = block.cheapest(likely)
            self.cheapest.append(found)
            if found.bars is None:
                self.failed = Result(is_impossible=found.is_impossible)
                return
        charged = sum(
            (block.base + way.floor for block, way in zip(self.blocks, self.cheapest, strict=True)), 0
        )
        self.bound: Exact = charged + self.finish.base
        """In units of regret; no plan costs less."""

    @property
    def second(self) -> int:
        """One second at weight 1, in units of regret."""
        return self.price.bottom * self.problem.scale.per_second * self.problem.scale.per_weight

    def proven(self, regret: Exact) -> Fraction:
        """Return the cost, in seconds, of the bound and ``regret`` above it."""
        return Fraction(self.bound + regret) / self.second

    def free_plan(self) -> Result | None:
        """Return every block's cheapest way: the best where the total has no wish; None out of bounds."""
        bars = self.in_order(
            pair for block, way in zip(self.blocks, self.cheapest, strict=True) for pair in _pairs(block, way)
        )
        pieces = self.problem.pieces
        total = sum(piece.seconds(count) for piece, count in zip(pieces, bars, strict=True))
        if not self.problem.goal.low <= total <= self.problem.goal.high:
            return None
        return Result(bars=bars, cost=cost_of(self.problem, bars), bound=self.proven(0))

    def in_order(self, pairs: object) -> tuple[int, ...]:
        """Return the bars in song order from (section, bars) pairs."""
        found = dict(pairs)  # type: ignore[call-overload]
        return tuple(found[index] for index in range(len(found)))

    def tables(self, reach: Exact) -> list[Table]:
        """Return each block's table within ``reach``."""
        pairs = zip(self.blocks, self.cheapest, strict=True)
        return [block.table(way.floor, reach) for block, way in pairs]


def _pairs(block: Block, way: Cheapest) -> list[tuple[int, int]]:
    return list(zip(block.sections, way.bars or (), strict=True))


def _best_first(priced: _Priced, effort: Effort) -> list[_Priced]:
    """Return the problem at good prices, the one with the highest bound first.

    The bound is concave in the price, so between the best price and one that was worse
    there may be a better one, and beyond that there is none.  Others are kept, as at a
    price at which many plans are equally good there may be no room to look at them all.
    """
    problem = priced.problem
    best, tried, worse = priced, {Fraction(0): priced}, None
    price = best_price(_hulls(best), problem)
    for _ in range(_PRICES):
        if price in tried or effort.is_spent:
            break
        other = tried[price] = _Priced(problem, price, effort, best)
        if other.failed is None and other.proven(0) >= best.proven(0):
            best = other
        else:
            worse = price
        if all(block.is_single for block in best.blocks):
            break
        if worse is None:
            price = best_price(_hulls(best), problem)
        else:
            price = ((best.price.value + worse) / 2).limit_denominator(_FINEST)
    good = [other for other in tried.values() if other.failed is None]
    return sorted(good, key=lambda other: other.proven(0), reverse=True)


def _hulls(priced: _Priced) -> list[list[tuple[float, float]]]:
    """Return the points that decide each block's hull."""
    hulls = []
    for block, way in zip(priced.blocks, priced.cheapest, strict=True):
        if block.is_single and way.bars:
            hulls.append(points_of_piece(block.pieces[0], priced.problem, way.bars[0]))
            continue
        table = block.table(way.floor, priced.second)
        weight = min((piece.weight for piece in block.pieces if piece.weight), default=0)
        if len(table):
            hulls.append(points_of_table(table, priced.problem, priced.price, weight))
    return hulls


def _widened(priced: _Priced, effort: Effort, *, any_plan: bool) -> Result:
    """Widen the reach until the best plan within it is proven, or the steps are spent."""
    best: Match | None = None
    bars: tuple[int, ...] = ()
    has_runs = any(piece.part.carries for piece in priced.problem.pieces)
    reach: Exact = max(1, priced.second // _FIRST_REACH)
    while True:
        effort.take(_STAGE * len(priced.blocks))
        found, beyond, pick = _stage(priced, reach, effort)
        if found is not None and (best is None or (found.regret, found.off) < (best.regret, best.off)):
            best, bars = found, priced.in_order(pick)
        if best is None and beyond is None:
            return Result(is_impossible=True)
        is_proven = best is not None and (beyond is None or best.regret <= beyond)
        if best is not None and (is_proven or any_plan or effort.is_spent or _is_cut(beyond, reach)):
            return _result(priced, best, bars, beyond)
        if effort.is_spent or (_is_cut(beyond, reach) and reach > priced.second * _FARTHEST):
            return Result()
        reach = _next_reach(reach, best, has_runs)


def _next_reach(reach: Exact, best: Match | None, has_runs: bool) -> Exact:
    """Return the next reach: up to the best plan's regret at once, but not where runs make it dear."""
    if best is None:
        return reach * _GROWTH
    return min(best.regret, reach * _GROWTH) if has_runs else best.regret


def _is_cut(beyond: Exact | None, reach: Exact) -> bool:
    """Whether room ran out within the reach: widening it would only leave more out."""
    return beyond is not None and beyond < reach


def _result(priced: _Priced, best: Match, bars: tuple[int, ...], beyond: Exact | None) -> Result:
    cost = cost_of(priced.problem, bars)
    if cost != priced.proven(best.regret):
        raise InternalError(
            f"the regrets of a plan add up to {priced.proven(best.regret)} s, its cost is {cost} s"
        )
    proven = best.regret if beyond is None else min(best.regret, beyond)
    return Result(bars=bars, cost=cost, bound=priced.proven(proven), off=best.off)


def _stage(
    priced: _Priced, reach: Exact, effort: Effort
) -> tuple[Match | None, Exact | None, list[tuple[int, int]]]:
    """Return the best plan with regrets within ``reach``, what was left out, and its bars."""
    tables = _Sums(priced, reach, effort).halves()
    beyond = _least_beyond(tables)
    found = matched(*tables, priced.finish)
    if found is None:
        return None, beyond, []
    return found, beyond, tables[0].pick(found.one) + tables[1].pick(found.other)


def _least_beyond(tables: Sequence[Table]) -> Exact | None:
    return min((table.beyond for table in tables if table.beyond is not None), default=None)


class _Sums:
    """Adds tables up until two are left, those of one tempo first: their sums coincide most."""

    def __init__(self, priced: _Priced, reach: Exact, effort: Effort) -> None:
        self._priced = priced
        self._reach = reach
        self._effort = effort

    def halves(self) -> tuple[Table, Table]:
        tables = self._of_one_tempo()
        nothing = Table(seconds=array([0]), regrets=array([0]), pick=lambda _: [], beyond=None)
        while len(tables) > 2:
            tables.sort(key=len)
            tables = [joined(tables[0], tables[1], self._reach, self._effort), *tables[2:]]
        return (*tables, nothing, nothing)[:2]  # type: ignore[return-value]

    def _of_one_tempo(self) -> list[Table]:
        groups: dict[object, list[Table]] = {}
        tables = self._priced.tables(self._reach)
        for block, table in zip(self._priced.blocks, tables, strict=True):
            tempi = frozenset(piece.section.tempo for piece in block.pieces if len(piece.ladder) > 1)
            groups.setdefault(tempi, []).append(table)
        return [
            reduce(lambda one, other: joined(one, other, self._reach, self._effort), sorted(group, key=len))
            for group in groups.values()
        ]
