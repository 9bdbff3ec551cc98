"""The bars that settled sections keep, from the JSON of a kept solution.

A solution is what ``plan --json`` prints: ``{"sections": [{"name": ..., "bars": ...}]}``.
This file knows nothing about where the solution is kept.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from bridge.errors import PlanError, Where
from bridge.exact import MAX_DIGITS
from bridge.plan.models import SectionEntry

__all__ = ["kept_bars"]

_MAX_BYTES = 4 * 1024 * 1024
_AGAIN = "Run 'plan PLAN --keep' before a section is settled, or take 'settled' out of the plan."


def kept_bars(sections: Sequence[SectionEntry], solved: str | None) -> tuple[int, ...]:
    """Return the bars of the sections up to the last settled one, in order; none if none is settled.

    PlanError without a solution, for one that cannot be read, and where its names differ.
    """
    count = max((index + 1 for index, section in enumerate(sections) if section.settled), default=0)
    if not count:
        return ()
    where = sections[count - 1].place_of("settled")
    if solved is None:
        raise PlanError(
            f"{sections[count - 1].name.text!r} is settled, but there is no kept solution"
            " (PLAN.solved.json) that says how many bars it has",
            hint=_AGAIN,
            where=where,
        )
    kept = _sections_of(solved, where)
    return tuple(
        _bars_of(kept, index, section.name.text, section.name.where)
        for index, section in enumerate(sections[:count])
    )


def _sections_of(solved: str, where: Where) -> list[Any]:
    problem = "it has no list 'sections'"
    if len(solved) > _MAX_BYTES:
        problem = f"it is longer than {_MAX_BYTES:,} characters"
    else:
        try:
            value = json.loads(solved)
        except (ValueError, RecursionError) as error:
            problem = f"it is not JSON ({error})"
        else:
            sections = value.get("sections") if isinstance(value, dict) else None
            if isinstance(sections, list):
                return sections
    raise PlanError(
        f"the kept solution (PLAN.solved.json) cannot be used: {problem}", hint=_AGAIN, where=where
    )


def _bars_of(kept: list[Any], index: int, name: str, where: Where) -> int:
    entry = kept[index] if index < len(kept) else None
    found = entry.get("name") if isinstance(entry, dict) else None
    if found != name:
        stands = f"{found[:40]!r}" if isinstance(found, str) else "none"
        raise PlanError(
            f"section {index + 1} is {name!r} here, but {stands} in the kept solution (PLAN.solved.json)",
            hint="Settled sections and those before them keep their names and order. " + _AGAIN,
            where=where,
        )
    bars = entry.get("bars") if isinstance(entry, dict) else None
    if not isinstance(bars, int) or isinstance(bars, bool) or not 1 <= bars < 10**MAX_DIGITS:
        raise PlanError(
            f"the kept solution (PLAN.solved.json) gives {name!r} no whole number of bars",
            hint=_AGAIN,
            where=where,
        )
    return bars
