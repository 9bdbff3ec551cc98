"""Labels that are never better than another: a greater open sum, and no less regret.

A payoff asks for as many seconds as its built sections add up to, so of two labels that
differ in nothing else the one with the smaller sum can be completed in every way that
the other can.  Where it has no more regret either, the other is dropped.  This file
knows nothing about how labels come about.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bridge.shape.numbers import Array, codes
from bridge.shape.trellis import Column

__all__ = ["BySum", "by_sum", "open_sum", "undominated"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BySum:
    """Labels in groups that differ only in their sum: ``places`` rise by group, then by sum."""

    groups: Array
    places: Array


def open_sum(columns: Mapping[Column, Array]) -> Column | None:
    """Return the column of the only open sum; None where there is none, or more than one."""
    sums = [name for name in columns if name[0] == "sum"]
    return sums[0] if len(sums) == 1 else None


def by_sum(one: Mapping[Column, Array], other: Mapping[Column, Array], total: Column) -> BySum:
    """Place the labels of two lots, one after the other, so that they can be compared."""
    columns = {name: np.concatenate((column, other[name])) for name, column in one.items()}
    count = len(columns[total])
    groups = codes([column for name, column in columns.items() if name != total], count)
    groups = np.unique(groups, return_inverse=True)[1].astype(np.int64)
    sums, ranks = np.unique(columns[total], return_inverse=True)
    return BySum(groups=groups, places=groups * (len(sums) + 1) + ranks)


def undominated(columns: Mapping[Column, Array], regrets: Array) -> tuple[Array, Array]:
    """Return the labels worth keeping and, for every label, which of those stands for it."""
    count = len(regrets)
    total = open_sum(columns)
    if total is None or not count:
        return np.arange(count), np.arange(count)
    none = {name: column[:0] for name, column in columns.items()}
    placed = by_sum(columns, none, total)
    order = np.argsort(placed.places, kind="stable")
    ranks = np.unique(regrets, return_inverse=True)[1].astype(np.int64)
    # each group's ranks are shifted below those before it, so that the least so far begins anew
    shifted = ranks[order] - placed.groups[order] * (count + 1)
    so_far = np.minimum.accumulate(shifted)
    is_kept = np.ones(count, dtype=bool)
    is_kept[1:] = so_far[1:] < so_far[:-1]
    number = np.cumsum(is_kept) - 1
    stands_for = np.empty(count, dtype=np.int64)
    stands_for[order] = number
    return order[is_kept], stands_for
