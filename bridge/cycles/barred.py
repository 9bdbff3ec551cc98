"""Cycles that are written in bars, turned into whole notes by the meters they stand in.

This file knows nothing about tempo or sections.
"""

from __future__ import annotations

from bridge.errors import PlanError, Where
from bridge.exact import Bars, Length, Meters

__all__ = ["fixed_cycle"]


def fixed_cycle(cycle: Length | Bars, meters: Meters, *, name: str, where: Where | None = None) -> Length:
    """Return the cycle of the layer ``name`` in whole notes.

    PlanError when a cycle in bars is no multiple of a repeating list of meters, naming the
    nearest that is.
    """
    if isinstance(cycle, Length):
        return cycle
    row = len(meters.row)
    if cycle.count % row == 0:
        return meters.of_bars(cycle.count)
    below, above = cycle.count // row * row, -(-cycle.count // row) * row
    nearest = above if below == 0 or above - cycle.count < cycle.count - below else below
    raise PlanError(
        f"the cycle of {name!r} is {cycle}, but the meters {meters} repeat every {row} bars",
        hint=f"Make it a multiple of {row} bars; the nearest is {nearest} bars.",
        where=where,
    )
