"""Whether anything fits at all, under any choice of a plan's demands.

This file knows nothing about which demands to ask about.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.plan.model import Plan
from bridge.shape.demands import Key
from bridge.shape.effort import Effort
from bridge.shape.problem import Poser
from bridge.shape.search import search

__all__ = ["Feasibility"]

_ASKING = 200
"""Steps that posing the problem anew is counted as, for each section."""


class Feasibility:
    """Asks one plan again and again, each time under other demands."""

    def __init__(self, plan: Plan, effort: Effort) -> None:
        self._poser = Poser(plan)
        self._sections = len(plan.sections)
        self._effort = effort

    def is_impossible(self, demands: Iterable[Key]) -> bool | None:
        """Tell whether nothing fits; None when the steps did not suffice to know."""
        if self._effort.is_spent:
            return None
        self._effort.take(_ASKING * self._sections)
        part = self._effort.part(4)
        result = search(self._poser.pose(demands), part, any_plan=True)
        self._effort.take(part.taken)
        if result.is_impossible:
            return True
        return None if result.bars is None else False
