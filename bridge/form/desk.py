"""Where remedies are tried: the plan, its score, and a budget of solving.

Every question here is answered by the planner on a changed plan.  This file knows no
reading by name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from bridge.errors import MusicError, PlanError
from bridge.exact import Seconds
from bridge.form.edits import Edit, applied, with_wish
from bridge.form.finding import Finding
from bridge.form.look import findings
from bridge.form.score import Score
from bridge.plan.model import Plan
from bridge.shape import best

__all__ = ["Desk", "Tried"]

_PROBE = 1_000_000
"""Steps that looking for a length may take: it is solved again, in full, before it is told."""
_UNPROVEN = 15
"""How many solves one counts as that came to no proof: it took that long."""

Tried = tuple[Plan, tuple[int, ...]]


class Desk:
    """A plan with its bars and findings, and ``solves`` more plans that may be solved."""

    def __init__(self, score: Score, found: Sequence[Finding], *, solves: int, effort: int) -> None:
        self.score = score
        self.plan = score.plan
        self.bars = tuple(placed.bars for placed in score.sections)
        self.identities = {finding.identity for finding in found}
        self.solves = solves
        self.effort = effort
        self._timeless = _timeless(self.plan)

    @property
    def is_spent(self) -> bool:
        """Whether no more plans may be solved."""
        return self.solves <= 0

    def cures(self, finding: Finding, edits: Sequence[Edit]) -> Tried | None:
        """Return the changed plan and its bars where the edits clear ``finding`` and add none; else None."""
        try:
            plan = applied(self.plan, edits)
        except (MusicError, PlanError):
            return None
        if plan == self.plan:
            return None
        bars = self._bars(plan, self.effort)
        if bars is None:
            return None
        score = Score.of(plan, bars)
        now = {other.identity for other in findings(score)}
        if finding.identity in now or now - self.identities:
            return None
        return (plan, bars) if all(placed.resolved for placed in score.sections) else None

    def nearest_bars(
        self,
        index: int,
        *,
        at_least: Fraction | None = None,
        at_most: Fraction | None = None,
        edits: Sequence[Edit] = (),
    ) -> int | None:
        """Return the bars nearest to what a section lasts now, within bounds in seconds, that resolve."""
        wish = self.score.lasts(index)
        wish = wish if at_least is None else max(wish, at_least)
        wish = wish if at_most is None else min(wish, at_most)
        if wish <= 0:
            return None
        try:
            plan = with_wish(
                applied(self.plan, edits),
                index,
                about=Seconds(wish),
                weight=Fraction(1000),
                at_least=None if at_least is None else Seconds(at_least),
                at_most=None if at_most is None else Seconds(at_most),
            )
        except (MusicError, PlanError):
            return None
        bars = self._bars(plan, min(_PROBE, self.effort))
        return None if bars is None else bars[index]

    def _bars(self, plan: Plan, effort: int) -> tuple[int, ...] | None:
        if _timeless(plan) == self._timeless:
            return self.bars
        if self.is_spent:
            return None
        solved = best(plan, effort=effort)
        self.solves -= 1 if solved is not None and solved.proven else _UNPROVEN
        return None if solved is None else solved.bars


def _timeless(plan: Plan) -> Plan:
    """Return the plan without its energies, on which no length depends."""
    return replace(plan, sections=tuple(replace(section, energy=()) for section in plan.sections))
