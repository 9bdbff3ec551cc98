"""Seconds against regret: what blocks can do, added up and matched to the total.

A table keeps, for each number of seconds some blocks can last together, the least
regret that it takes.  Two tables are added by trying every pair (a min-plus
convolution); the last two are not added but matched: for every entry of one, the best
partner in the other is found by halving, because what the total costs is a straight
line on either side of its wish.  This file knows nothing about sections.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import gcd

import numpy as np

from bridge.shape.effort import Effort
from bridge.shape.numbers import (
    Array,
    Exact,
    added,
    is_wide,
    largest,
    least_of_each,
    left_over,
    plain,
    taken_from,
)

__all__ = ["Table", "joined", "table_of"]

_DENSE = 1 << 16
"""Cells of a dense table at most."""
_CELLS_A_STEP = 128
"""Cells of a dense table that take as long as one step elsewhere."""
_NEVER = 1 << 61
"""More than any regret in a dense table: these seconds cannot be had."""

Pick = Callable[[int], list[tuple[int, int]]]
"""From an entry's number to its (section, bars) pairs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rising ``seconds`` with the least ``regrets`` for each, and the way back to the bars."""

    seconds: Array
    regrets: Array
    pick: Pick
    beyond: Exact | None
    """No entry that was left out has less regret than this; None: none was left out."""

    def __len__(self) -> int:
        return len(self.seconds)

    def between(self, low: int, high: int) -> Table:
        """Return the entries of ``low`` to ``high`` seconds."""
        start = int(np.searchsorted(self.seconds, low, side="left"))
        stop = int(np.searchsorted(self.seconds, high, side="right"))
        if stop - start == len(self):
            return self
        pick = self.pick
        return Table(
            seconds=self.seconds[start:stop],
            regrets=self.regrets[start:stop],
            pick=lambda entry: pick(entry + start),
            beyond=self.beyond,
        )


def table_of(seconds: Array, regrets: Array, pick: Pick, beyond: Exact | None) -> Table:
    """Make a table of ways in any order; of equal seconds the least regret is kept."""
    _, code = np.unique(seconds, return_inverse=True)
    kept = least_of_each(code.astype(np.int64), regrets)
    return Table(
        seconds=seconds[kept], regrets=regrets[kept], pick=lambda entry: pick(int(kept[entry])), beyond=beyond
    )


def joined(one: Table, other: Table, reach: Exact, effort: Effort) -> Table:
    """Add two tables; entries of more than ``reach`` regret are left out."""
    if len(one) < len(other):
        one, other = other, one
    if len(other) == 1:
        return _shifted(one, other, reach, effort)
    step = _common_step(one, other)
    if step is not None:
        seconds, regrets, beyond = _dense(one, other, step, reach, effort)
    else:
        seconds, regrets, beyond = _sparse(one, other, reach, effort)

    def pick(entry: int) -> list[tuple[int, int]]:
        at, by = _split(one, other, seconds[entry], regrets[entry])
        return one.pick(at) + other.pick(by)

    return Table(seconds=seconds, regrets=regrets, pick=pick, beyond=beyond)


def _least(one: Exact | None, other: Exact | None) -> Exact | None:
    if one is None or other is None:
        return one if other is None else other
    return min(one, other)


def _shifted(one: Table, other: Table, reach: Exact, effort: Effort) -> Table:
    """Add a table of one entry only: what a section that cannot move comes to."""
    regrets = added(one.regrets, other.regrets)
    kept = np.flatnonzero(regrets <= reach)
    effort.take(len(one))
    return Table(
        seconds=added(one.seconds, other.seconds)[kept],
        regrets=regrets[kept],
        pick=lambda entry: one.pick(int(kept[entry])) + other.pick(0),
        beyond=_least(_least(one.beyond, other.beyond), reach if len(kept) < len(one) else None),
    )


def _common_step(one: Table, other: Table) -> int | None:
    """Return the unit of a dense sum of the two, or None where it would be mostly empty."""
    if (
        not len(one)
        or not len(other)
        or any(map(is_wide, (one.seconds, other.seconds, one.regrets, other.regrets)))
    ):
        return None
    if largest(one.regrets) + largest(other.regrets) >= _NEVER:
        return None
    step = gcd(
        int(np.gcd.reduce(np.diff(one.seconds), initial=0)),
        int(np.gcd.reduce(np.diff(other.seconds), initial=0)),
    )
    step = step or 1
    cells = sum(int(table.seconds[-1] - table.seconds[0]) // step + 1 for table in (one, other))
    return step if cells <= min(_DENSE, 8 * len(one) + 64) else None


def _dense(
    one: Table, other: Table, step: int, reach: Exact, effort: Effort
) -> tuple[Array, Array, Exact | None]:
    beyond = _least(one.beyond, other.beyond)
    cells = (one.seconds - one.seconds[0]) // step
    shifts = ((other.seconds - other.seconds[0]) // step).tolist()
    line = np.full(int(cells[-1]) + 1, _NEVER, dtype=np.int64)
    line[cells] = one.regrets
    total = np.full(len(line) + shifts[-1], _NEVER, dtype=np.int64)
    effort.take(len(line) * len(shifts) // _CELLS_A_STEP + 1)
    for shift, regret in zip(shifts, other.regrets.tolist(), strict=True):
        part = total[shift : shift + len(line)]
        np.minimum(part, line + regret, out=part)
    found = np.flatnonzero(total <= min(reach, _NEVER - 1))
    if beyond is None or beyond > reach:
        sums = len(np.flatnonzero(total < _NEVER))
        beyond = reach if sums > len(found) else beyond
    return one.seconds[0] + other.seconds[0] + found * step, total[found], beyond


def _sparse(one: Table, other: Table, reach: Exact, effort: Effort) -> tuple[Array, Array, Exact | None]:
    beyond = _least(one.beyond, other.beyond)
    wide = is_wide(one.regrets) or is_wide(other.regrets) or is_wide(one.seconds) or is_wide(other.seconds)
    rows = np.argsort(one.regrets, kind="stable")
    cols = np.argsort(other.regrets, kind="stable")
    left = left_over(reach, one.regrets[rows], other.regrets)
    counts = np.searchsorted(other.regrets[cols], left, side="right")
    if (counts < len(other)).any():
        beyond = _least(beyond, reach)
    room = effort.room(wide=wide)
    if counts.sum() > room:
        shown = max(1, int(np.searchsorted(np.cumsum(counts), room, side="right")))
        if shown < len(rows):
            beyond = _least(beyond, plain(one.regrets[rows[shown]]))
        rows, counts = rows[:shown], counts[:shown]
    effort.take(int(counts.sum()) + len(rows), wide=wide)
    ends = np.cumsum(counts)
    within = np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - counts, counts)
    at, by = np.repeat(rows, counts), cols[within]
    seconds, regrets = added(one.seconds[at], other.seconds[by]), added(one.regrets[at], other.regrets[by])
    _, code = np.unique(seconds, return_inverse=True)
    kept = least_of_each(code.astype(np.int64), regrets)
    return seconds[kept], regrets[kept], beyond


def _split(one: Table, other: Table, seconds: Exact, regret: Exact) -> tuple[int, int]:
    """Find entries of the two tables that add up to an entry of their sum."""
    wanted = taken_from(seconds, other.seconds)
    places = np.searchsorted(one.seconds, wanted)
    inside = np.flatnonzero(places < len(one))
    places = places[inside]
    fits = (one.seconds[places] == wanted[inside]) & (
        added(one.regrets[places], other.regrets[inside]) == regret
    )
    found = np.flatnonzero(fits)[0]
    return int(places[found]), int(inside[found])
