"""A section renamed in the plan while its place stays: its marker is renamed, not laid anew.

Only a marker of ours that the plan does not want under its old name, and only where the
message could mean no marker of the user's.  This file knows nothing about when.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from bridge.hostmap import MarkerHeard, Step
from bridge.lay.desk import Desk
from bridge.lay.owner import Survey
from bridge.lay.wanted import Wanted

__all__ = ["Renaming", "Saying", "renamings"]

Saying = Callable[[MarkerHeard], tuple[Step, ...] | str]
MayHit = Callable[[MarkerHeard, Saying], bool]
"""Tells whether a message by number may mean another marker by the time that it arrives."""


@dataclass(frozen=True, slots=True)
class Renaming:
    """One marker that gets another name."""

    marker: int
    """Its index in what stands."""
    steps: tuple[Step, ...]


def renamings(
    desk: Desk, found: Survey, missing: Iterable[Wanted], leaving: Iterable[int], may_hit: MayHit
) -> Mapping[int, Renaming]:
    """Return, by the index of a wanted marker that is ``missing``, which of the ``leaving`` becomes it."""
    if not desk.renames:
        return {}
    users = [told for number, told in enumerate(found.standing) if number not in found.owner]
    left = list(leaving)
    chosen: dict[int, Renaming] = {}
    for wanted in missing:
        for number in left:
            told = found.standing[number]
            if not wanted.stands_at(told.at):
                continue

            def saying(marker: MarkerHeard, wanted: Wanted = wanted) -> tuple[Step, ...] | str:
                return desk.renaming(marker, wanted)

            steps = saying(told)
            if isinstance(steps, str) or any(saying(one) == steps for one in users) or may_hit(told, saying):
                continue
            chosen[wanted.index] = Renaming(number, steps)
            left.remove(number)
            break
    return chosen
