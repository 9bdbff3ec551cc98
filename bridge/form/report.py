"""The readings of a plan: what was found, what the writer accepts, what would help.

This file knows nothing about how a report is shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import Where
from bridge.form.desk import Desk
from bridge.form.finding import Finding, Look, Reading
from bridge.form.look import look
from bridge.form.remedy import remedy
from bridge.form.score import Score
from bridge.plan import Accept, Plan
from bridge.shape import DEFAULT_EFFORT

__all__ = ["Report", "Unneeded", "read_form"]

_SOLVES = 200
"""Changed plans that are solved at most in looking for remedies; in long songs fewer: each takes longer."""
_SECTIONS = 16
"""The longest song in which so many are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unneeded:
    """An acceptance in the plan of something that was not found."""

    accept: Accept
    section: str | None
    """The section it stands in; None for the whole song."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """All that the readings say about one solved plan."""

    score: Score
    readings: tuple[Reading, ...]
    cannot_tell: tuple[Look, ...]
    """The readings that could not judge some sections: their energy is not given."""
    unneeded: tuple[Unneeded, ...]

    @property
    def open(self) -> tuple[Reading, ...]:
        """The readings that the plan does not accept."""
        return tuple(reading for reading in self.readings if reading.accepted is None)


def read_form(
    plan: Plan, bars: Sequence[int], *, effort: int = DEFAULT_EFFORT, solves: int | None = None
) -> Report:
    """Read the form of ``plan`` with the ``bars`` of each section, and look for remedies.

    ``effort`` is what each changed plan may take in solving, as for the plan itself;
    ``solves`` how many of them: with 0 only those remedies are found that move no length.
    """
    if solves is None:
        solves = _SOLVES * _SECTIONS // max(_SECTIONS, len(plan.sections))
    score = Score.of(plan, tuple(bars))
    looks = look(score)
    found = [finding for one in looks for finding in one.findings]
    desk = Desk(score, found, solves=solves, effort=effort)
    readings = tuple(_reading(desk, finding) for finding in found)
    return Report(
        score=score,
        readings=readings,
        cannot_tell=tuple(one for one in looks if one.unjudged),
        unneeded=tuple(_unneeded(plan, readings)),
    )


def _reading(desk: Desk, finding: Finding) -> Reading:
    accepted, where = _accepted(desk.plan, finding), _where(desk.plan, finding)
    if accepted is not None:
        return Reading(finding=finding, where=where, accepted=accepted)
    found = remedy(desk, finding)
    return Reading(
        finding=finding, where=where, remedy=found, searched=found is not None or not desk.is_spent
    )


def _accepted(plan: Plan, finding: Finding) -> Accept | None:
    """Return the acceptance that covers a finding; a section's own goes before the whole song's."""
    own = [accept for index in finding.sections for accept in plan.sections[index].accept]
    for accept in (*own, *plan.accept):
        if accept.reading == finding.rule.name and _covers(accept.threshold, finding):
            return accept
    return None


def _covers(threshold: Fraction | None, finding: Finding) -> bool:
    return threshold is None or finding.rule.holds(finding.found, threshold)


def _where(plan: Plan, finding: Finding) -> Where | None:
    if finding.section is None:
        return plan.marks.get("sections")
    marks = plan.sections[finding.section].marks
    return marks.get(finding.key, marks.get("name"))


def _unneeded(plan: Plan, readings: Sequence[Reading]) -> Iterator[Unneeded]:
    used = {id(reading.accepted) for reading in readings}
    named = {reading.finding.rule.name for reading in readings}
    given = [(accept, section.name) for section in plan.sections for accept in section.accept]
    for accept, section in [*((accept, None) for accept in plan.accept), *given]:
        stricter = accept.threshold is not None and accept.reading in named
        if id(accept) not in used and not stricter:
            yield Unneeded(accept=accept, section=section)
