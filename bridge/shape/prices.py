"""The price on a second of song at which the bound is highest.

Any price gives a valid bound; this picks a good one.  Each block's seconds and costs
are replaced by their lower convex hull, and so is what the total costs; the best price
is the slope at which, adding all hulls' edges from the flattest fall to the steepest
rise, the song reaches its total.  Floats are good enough here, as nothing that is
proven rests on the choice.  This file knows nothing about searching.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

from bridge.shape.piece import Piece
from bridge.shape.problem import Problem
from bridge.shape.tables import Table
from bridge.shape.window import Price

__all__ = ["best_price", "points_of_piece", "points_of_table"]

Point = tuple[float, float]
"""Seconds and cost, at weight 1."""

_AROUND = 2
_FAR = 3600.0
_MOST_POINTS = 200
_FINEST = 1000


def points_of_piece(piece: Piece, problem: Problem, wish: int) -> list[Point]:
    """Return what decides a section's hull: its lengths around its wish, and the extremes."""
    ladder, scale = piece.ladder, problem.scale
    rung = ladder.rung_at(wish)
    around = range(rung - _AROUND, rung + _AROUND + 1)
    rungs = {ladder.first, ladder.top, *(at for at in around if ladder.first <= at <= ladder.top)}
    unit, cost_unit = scale.per_second, scale.per_second * scale.per_weight
    return [
        (float(piece.seconds(bars) / unit), float(piece.cost(bars) / cost_unit))
        for bars in map(ladder.bars, sorted(rungs))
    ]


def points_of_table(table: Table, problem: Problem, price: Price, weight: int) -> list[Point]:
    """Return what decides a block's hull, supposing that farther out a second costs ``weight``."""
    scale = problem.scale
    step = max(1, len(table) // _MOST_POINTS)
    kept = sorted({*range(0, len(table), step), len(table) - 1, int(table.regrets.argmin())})
    seconds = [float(table.seconds[at]) / scale.per_second for at in kept]
    unit = price.bottom * scale.per_second * scale.per_weight
    regrets = [float(table.regrets[at] / unit) for at in kept]
    points = [(t, regret + float(price.value) * t) for t, regret in zip(seconds, regrets, strict=True)]
    slope = max(weight / scale.per_weight, 1e-6)
    (low, low_cost), (high, high_cost) = points[0], points[-1]
    return [(low - _FAR, low_cost + slope * _FAR), *points, (high + _FAR, high_cost + slope * _FAR)]


def best_price(blocks: Iterable[Sequence[Point]], problem: Problem) -> Fraction:
    """Return the price, rounded to a simple fraction, for these blocks and the problem's goal."""
    goal, scale = problem.goal, problem.scale
    weight = goal.weight / scale.per_weight
    low, high = goal.low / scale.per_second, goal.high / scale.per_second
    about = min(max(goal.about / scale.per_second, low), high)
    edges: list[tuple[float, float]] = [(-weight, high - about), (weight, about - low)]
    missing = high
    for points in blocks:
        hull = _hull(points)
        missing -= hull[0][0]
        edges += [
            ((next_cost - cost) / (then - now), then - now)
            for (now, cost), (then, next_cost) in pairwise(hull)
        ]
    edges.sort()
    for slope, length in edges:
        missing -= length
        if missing <= 0:
            return Fraction(slope).limit_denominator(_FINEST)
    return Fraction(edges[-1][0]).limit_denominator(_FINEST)


def _hull(points: Sequence[Point]) -> list[Point]:
    """Return the lower convex hull of points in rising order."""
    hull: list[Point] = []
    for point in points:
        while len(hull) > 1 and _is_above(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    return hull


def _is_above(left: Point, middle: Point, right: Point) -> bool:
    across = (middle[0] - left[0]) * (right[1] - left[1])
    return across <= (middle[1] - left[1]) * (right[0] - left[0])
