"""New lengths for sections, written into the plan file; all else in it stays as it is.

First the wishes are changed alone; where the planner would still choose otherwise, the
bounds as well.  This file knows nothing about where the lengths come from.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from bridge.cli.solving import kept_path, read_bytes, solve_plan
from bridge.errors import PlanError
from bridge.plan import load
from bridge.plan.new_lengths import with_lengths
from bridge.shape import Infeasible, Solved
from bridge.store import write_atomically

__all__ = ["take"]


def take(path: Path, changed: Mapping[int, int], *, others: Mapping[int, int], effort: int) -> str | None:
    """Give the sections ``changed``, by index, so many bars in the plan at ``path``; return why it cannot be.

    The planner has to choose those bars, and those of the ``others`` too.
    """
    before = read_bytes(path, what="the plan")
    wanted = {**others, **changed}
    after, why = _edited(path, before, changed, wanted, effort=effort)
    if after is None:
        return why
    if read_bytes(path, what="the plan") != before:
        return "the plan file was changed meanwhile; do it again"
    write_atomically(path, after)
    return None


def _edited(
    path: Path, before: bytes, changed: Mapping[int, int], wanted: Mapping[int, int], *, effort: int
) -> tuple[bytes | None, str]:
    why = ""
    for bound in (False, True):
        try:
            text = with_lengths(before.decode("utf-8"), dict(changed), bound=bound)
            plan = load(text, source=str(path), solved=_kept(path))
        except PlanError as error:
            return None, f"the plan would not load: {error.message}"
        outcome = solve_plan(plan, effort=effort)
        if isinstance(outcome, Infeasible):
            why = "the plan could not be satisfied: " + "; ".join(one.text for one in outcome.conflict)
        elif not isinstance(outcome, Solved):
            why = "no solution of the changed plan was found; give more with --effort"
        else:
            other = [
                f"{plan.sections[index].name!r} {outcome.bars[index]} bars, not {bars}"
                for index, bars in sorted(wanted.items())
                if outcome.bars[index] != bars
            ]
            if not other:
                return text.encode("utf-8"), ""
            why = f"the planner would then give {', '.join(other)}"
    return None, why


def _kept(path: Path) -> str | None:
    for kept in (kept_path(path), path.with_suffix(".solved.json")):
        if kept.is_file():
            return read_bytes(kept, what="the kept solution").decode("utf-8", "replace")
    return None
