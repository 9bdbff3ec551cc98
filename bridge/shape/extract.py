"""A part of a plan on its own: some sections with all that they refer to.

This file knows nothing about demands or solving.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from bridge.plan.model import Plan, Section

__all__ = ["closure", "extract"]


def closure(plan: Plan, sections: Iterable[int]) -> tuple[int, ...]:
    """Return ``sections`` with their runs and all they refer to, in song order."""
    runs = {section.index: [other.index for other in run] for run in plan.runs for section in run}
    found: set[int] = set()
    open_ = list(sections)
    while open_:
        index = open_.pop()
        if index not in found:
            found.add(index)
            open_ += [*runs[index], *_referred(plan.sections[index])]
    return tuple(sorted(found))


def extract(plan: Plan, sections: tuple[int, ...]) -> Plan:
    """Return a plan, without a total, of a closed set of sections, numbered anew."""
    number = {index: at for at, index in enumerate(sections)}
    return replace(
        plan, sections=tuple(_numbered(plan.sections[index], number) for index in sections), total=None
    )


def _referred(section: Section) -> tuple[int, ...]:
    same = () if section.same_length_as is None else (section.same_length_as,)
    return same if section.pays_off is None else (*same, *section.pays_off.sections)


def _numbered(section: Section, number: dict[int, int]) -> Section:
    same, pays = section.same_length_as, section.pays_off
    return replace(
        section,
        index=number[section.index],
        same_length_as=None if same is None else number[same],
        pays_off=None if pays is None else replace(pays, sections=tuple(number[at] for at in pays.sections)),
    )
