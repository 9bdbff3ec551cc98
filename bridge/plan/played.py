"""A plan of which the beginning has been played: what was played is fact, the rest is still to be planned.

What was demanded of a section that is over is not demanded any more: it has the bars that
it got.  What later sections demand of it still is: a payoff is measured by how long the
build really was.  This file knows nothing about who played, or how.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches

from bridge.errors import UsageError
from bridge.plan.model import PayOff, Plan, Section

__all__ = ["with_played"]


def with_played(plan: Plan, played: Mapping[str, int]) -> Plan:
    """Return ``plan`` with the bars that the named sections got; one with 0 bars was left out.

    UsageError for a name that is no section's, when nothing is left of the plan, or when a
    section that was left out is needed by a later one.
    """
    names = [section.name for section in plan.sections]
    for name in played:
        if name not in names:
            near = get_close_matches(name, names, n=1)
            hint = f"Did you mean {near[0]!r}?" if near else f"There are {', '.join(names)}."
            raise UsageError(f"no section of the plan is called {name!r}", hint=hint)
    left = [section for section in plan.sections if played.get(section.name) != 0]
    if not left:
        raise UsageError("every section was left out", hint="Give at least one of them bars.")
    index = {section.index: number for number, section in enumerate(left)}
    last = len(left) - 1
    sections = tuple(
        _moved(_as_played(section, played.get(section.name)), index, is_last=number == last)
        for number, section in enumerate(left)
    )
    return replace(plan, sections=sections)


def _as_played(section: Section, bars: int | None) -> Section:
    if bars is None or section.free is not None:
        return section
    return replace(
        section,
        bars=bars,
        about=None,
        at_least=None,
        at_most=None,
        same_length_as=None,
        resolve=(),
        pays_off=None,
        meets_once=False,
        settled=False,
        settled_bars=None,
        tighten=None,
        vamp=None,
        cues=(),
    )


def _moved(section: Section, index: Mapping[int, int], *, is_last: bool) -> Section:
    """Return ``section`` where it now stands among those that are left."""
    tied = section.same_length_as
    if tied is not None and tied not in index:
        raise UsageError(
            f"{section.name!r} has the length of a section that was left out",
            hint="Give it bars or a length of its own in the plan.",
        )
    return replace(
        section,
        index=index[section.index],
        same_length_as=None if tied is None else index[tied],
        pays_off=_paying(section.pays_off, index),
        runs_on=section.runs_on and not is_last,
    )


def _paying(pays_off: PayOff | None, index: Mapping[int, int]) -> PayOff | None:
    """Return what a section still pays off: nothing, where all of it was left out."""
    if pays_off is None:
        return None
    still = tuple(index[one] for one in pays_off.sections if one in index)
    return replace(pays_off, sections=still) if still else None
