"""Why nothing fits: demands that cannot hold together, none of which can be left out.

Demands are left out one after the other, in groups first; what nothing fits without is
left out for good.  In the end every demand that is left was seen to be needed: without
it something fits.  Where a few sections cannot be satisfied on their own, only they are
asked about.  This file knows nothing about how to help.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from bridge.plan.model import Plan
from bridge.shape.demands import Key, Kind, describe, hard_demands
from bridge.shape.effort import Effort
from bridge.shape.extract import closure, extract
from bridge.shape.feasible import Feasibility
from bridge.shape.outcome import Infeasible
from bridge.shape.problem import pose
from bridge.shape.relax import relaxations

__all__ = ["conflict_of", "explain"]


def explain(plan: Plan, effort: Effort) -> Infeasible:
    """Name the conflict of a plan that is known to be impossible, and what would help."""
    keys, is_irreducible = conflict_of(plan, effort)
    return Infeasible(
        conflict=tuple(describe(plan, key) for key in keys),
        relaxations=relaxations(plan, keys, Effort(effort.limit // 8)),
        irreducible=is_irreducible,
    )


def conflict_of(plan: Plan, effort: Effort) -> tuple[tuple[Key, ...], bool]:
    """Return the demands of a conflict in song order, and whether each is proven needed."""
    for sections in _parts(plan):
        alone = extract(plan, sections)
        asked = [key for key in hard_demands(alone) if key[0] is not Kind.DAY]
        if Feasibility(alone, effort).is_impossible(asked):
            keys, sure = _shrunk(alone, asked, effort)
            return tuple((kind, None if at is None else sections[at]) for kind, at in keys), sure
    return _shrunk(plan, hard_demands(plan), effort)


def _parts(plan: Plan) -> list[tuple[int, ...]]:
    """Return the closed sets of sections that touch the rest only through the total."""
    blocks = pose(plan, hard_demands(plan)).blocks
    parts = dict.fromkeys(closure(plan, block) for block in blocks)
    return sorted((part for part in parts if len(part) < len(plan.sections)), key=len)


def _shrunk(plan: Plan, keys: Sequence[Key], effort: Effort) -> tuple[tuple[Key, ...], bool]:
    """Leave out of ``keys``, which cannot hold together, all that is not needed for that."""
    asking = Feasibility(plan, effort)
    kept = list(keys)
    doubts = False

    def sweep(group: list[Key]) -> None:
        nonlocal kept, doubts
        without = [key for key in kept if key not in group]
        impossible = asking.is_impossible(without)
        if impossible:
            kept = without
        elif len(group) > 1:
            sweep(group[: len(group) // 2])
            sweep(group[len(group) // 2 :])
        else:
            doubts = doubts or impossible is None

    for group in _by_kind(keys):
        sweep(group)
    return tuple(sorted(kept, key=_song_order)), not doubts


def _by_kind(keys: Iterable[Key]) -> list[list[Key]]:
    order = list(Kind)[::-1]
    ordered = sorted(keys, key=lambda key: order.index(key[0]))
    return [list(group) for _, group in groupby(ordered, key=lambda key: key[0])]


def _song_order(key: Key) -> tuple[bool, int, int]:
    kind, index = key
    return index is None, index or 0, list(Kind).index(kind)
