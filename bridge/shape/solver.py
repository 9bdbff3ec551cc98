"""The planner's door: a plan in, what it can come to out.

Pure: no clock, no file; the budget counts steps, so the same plan has the same answer
everywhere.  What is heavy is imported when it is called for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from bridge.plan.model import Plan
from bridge.shape.effort import DEFAULT_EFFORT, Effort
from bridge.shape.outcome import Outcome, Solved, Unknown

__all__ = ["best", "solve"]


def solve(
    plan: Plan, *, effort: int = DEFAULT_EFFORT, progress: Callable[..., None] | None = None
) -> Outcome:
    """Return bars for every section, proven the best or with a proven gap, or why nothing fits.

    ``effort`` is the number of steps the search may take; ``progress`` is called now and
    then with ``steps``, those taken so far.
    """
    budget = Effort(effort, progress)
    found, is_impossible = _searched(plan, budget)
    if found is not None:
        return found
    if not is_impossible:
        return Unknown(steps=budget.taken)
    from bridge.shape.conflict import explain

    if plan.tempo_range is None:
        return explain(plan, Effort(effort, progress))
    grid = plan.tempo_range.grid
    tempo = grid[len(grid) // 2]
    return replace(explain(plan.at_tempo(tempo), Effort(effort, progress)), tempo=tempo)


def best(plan: Plan, *, effort: int = DEFAULT_EFFORT) -> Solved | None:
    """Return what :func:`solve` would, or None where nothing was found, without asking why."""
    found, _ = _searched(plan, Effort(effort, None))
    return found


def _searched(plan: Plan, budget: Effort) -> tuple[Solved | None, bool]:
    """Return what was found within the budget, and whether there is proven to be nothing."""
    from bridge.shape.demands import hard_demands
    from bridge.shape.problem import pose
    from bridge.shape.search import search

    if plan.tempo_range is not None:
        from bridge.shape.tempi import search_tempi

        return search_tempi(plan, plan.tempo_range, budget)
    result = search(pose(plan, hard_demands(plan)), budget)
    if result.bars is not None and result.cost is not None and result.bound is not None:
        return Solved(bars=result.bars, cost=result.cost, bound=result.bound), False
    return None, result.is_impossible
