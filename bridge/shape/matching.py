"""The last two tables and the total: which entries together are best.

On either side of its wish what the total costs is a straight line, so on each side the
best partner of an entry is the least of ``regret + slope·seconds`` over a stretch of
the other table.  Among equals the total nearest its wish is taken.  This file knows
nothing about sections.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bridge.shape.numbers import Array, Exact, added, plain, taken_from, times
from bridge.shape.tables import Table
from bridge.shape.terms import Goal
from bridge.shape.window import Price

__all__ = ["Finish", "Match", "matched"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """What the song's total costs at a price, as regret over the cheapest total."""

    goal: Goal
    price: Price

    @property
    def base(self) -> int:
        """The least cost of any total within bounds, whether or not the blocks can make it."""
        return min(self._charged(seconds) for seconds in self._corners())

    def regret(self, seconds: int) -> int:
        """Return the regret of a total; the bounds are the caller's business."""
        return self._charged(seconds) - self.base

    def slope(self, *, late: bool) -> int:
        """Return what one more unit of seconds costs, before or after the wish."""
        weight = self.price.bottom * self.goal.weight
        return (weight if late else -weight) + self.price.per_unit

    def sides(self) -> tuple[tuple[int, int, bool], ...]:
        """Return the stretches of totals up to the wish, and from it on: (low, high, late)."""
        goal = self.goal
        return ((goal.low, min(goal.about, goal.high), False), (max(goal.about, goal.low), goal.high, True))

    def _corners(self) -> tuple[int, ...]:
        goal = self.goal
        return goal.low, goal.high, max(goal.low, min(goal.about, goal.high))

    def _charged(self, seconds: int) -> int:
        weight = self.price.bottom * self.goal.weight
        return weight * abs(seconds - self.goal.about) + self.price.per_unit * seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """The best pair of entries: the regret of both and of the total, and how far that is off."""

    regret: Exact
    off: int
    one: int
    other: int


def matched(one: Table, other: Table, finish: Finish) -> Match | None:
    """Return the pair whose regret with the total's is least; None where no total is within bounds."""
    best: Match | None = None
    if len(one) and len(other):
        longest = int(one.seconds[-1]) + int(other.seconds[-1])
        for low, high, late in finish.sides():
            bounds = (min(low, longest + 1), min(high, longest))
            found = _on_side(one, other, finish, bounds, late=late)
            if found and (best is None or (found.regret, found.off) < (best.regret, best.off)):
                best = found
    return best


def _on_side(
    one: Table, other: Table, finish: Finish, bounds: tuple[int, int], *, late: bool
) -> Match | None:
    slope = finish.slope(late=late)
    mine = added(one.regrets, times(one.seconds, slope))
    theirs = added(other.regrets, times(other.seconds, slope))
    starts = np.searchsorted(other.seconds, taken_from(bounds[0], one.seconds), side="left")
    stops = np.searchsorted(other.seconds, taken_from(bounds[1], one.seconds), side="right")
    rows = np.flatnonzero(stops > starts)
    if not len(rows):
        return None
    sums = added(mine[rows], _least_in_stretches(theirs, starts[rows], stops[rows]))
    rows = rows[np.flatnonzero(sums == sums.min())]
    partners = _partners(theirs, taken_from(sums.min(), mine[rows]), (starts[rows], stops[rows]), late=late)
    off = abs(taken_from(finish.goal.about, added(one.seconds[rows], other.seconds[partners])))
    nearest = int(np.argmin(off))
    return _match(one, other, finish, (int(rows[nearest]), int(partners[nearest])))


def _partners(theirs: Array, wanted: Array, stretches: tuple[Array, Array], *, late: bool) -> Array:
    """Find in each stretch the entry of the wanted value nearest the wish; there is one in each.

    That is the first after the wish, and the last before it.
    """
    count = len(theirs)
    order = np.argsort(theirs, kind="stable")
    values, ranks = np.unique(theirs, return_inverse=True)
    places = ranks[order].astype(np.int64) * count + order
    value = np.searchsorted(values, wanted).astype(np.int64) * count
    starts, stops = stretches
    if late:
        return order[np.searchsorted(places, value + starts, side="left")]
    return order[np.searchsorted(places, value + stops - 1, side="right") - 1]


def _match(one: Table, other: Table, finish: Finish, entries: tuple[int, int]) -> Match:
    first, second = entries
    seconds = int(one.seconds[first]) + int(other.seconds[second])
    regret = plain(one.regrets[first]) + plain(other.regrets[second])
    return Match(
        regret=regret + finish.regret(seconds), off=abs(seconds - finish.goal.about), one=first, other=second
    )


def _least_in_stretches(values: Array, starts: Array, stops: Array) -> Array:
    """Return the least value of each stretch, by doubling: log2 of the longest passes over the values."""
    found = np.empty(len(starts), dtype=values.dtype)
    lengths = stops - starts
    span, least = 1, values
    while True:
        here = (lengths >= span) & (lengths < 2 * span)
        found[here] = np.minimum(least[starts[here]], least[stops[here] - span])
        span *= 2
        if span > lengths.max():
            return found
        least = np.minimum(least[: -(span // 2)], least[span // 2 :])
