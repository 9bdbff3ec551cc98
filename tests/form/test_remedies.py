"""Every remedy, when applied, clears its reading and adds no other; else none is told."""

from __future__ import annotations

from collections import Counter
from random import Random

from hypothesis import HealthCheck, given, settings

from bridge.errors import PlanError
from bridge.form import RULES, Reading, Report, read_form
from bridge.plan import Plan, dump, load
from bridge.shape import Solved, solve
from tests.form.made_up import plan_texts, text_of

_SEEDS = (15, 16, 55, 58, 69, 94, 128, 130)
"""Few made-up plans in which, together, every reading is found and has a remedy."""


def solved(text: str) -> tuple[Plan, tuple[int, ...]] | None:
    try:
        plan = load(text)
    except PlanError as error:
        if "repeat every" in error.message or "multiple" in error.message:
            return None
        raise
    outcome = solve(plan)
    return (plan, outcome.bars) if isinstance(outcome, Solved) else None


def identities(report: Report) -> set[tuple[str, int | None]]:
    return {reading.finding.identity for reading in report.readings}


def check(report: Report, reading: Reading) -> None:
    """Write the changed plan down, load it, solve it and read it again: as the user will."""
    assert reading.remedy is not None
    plan = load(dump(reading.remedy.plan))
    assert plan == reading.remedy.plan
    outcome = solve(plan)
    assert isinstance(outcome, Solved)
    assert outcome.bars == reading.remedy.bars
    again = read_form(plan, outcome.bars, solves=0)
    assert all(placed.resolved for placed in again.score.sections)
    assert reading.finding.identity not in identities(again)
    assert identities(again) <= identities(report)


def test_every_remedy_applied_clears_its_reading_and_adds_no_other() -> None:
    told: Counter[str] = Counter()
    found: Counter[str] = Counter()

    @settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(plan_texts())
    def holds(text: str) -> None:
        given_plan = solved(text)
        if given_plan is None:
            return
        report = read_form(*given_plan, solves=60)
        for reading in report.readings:
            found[reading.finding.rule.name] += 1
            if reading.remedy is not None:
                told[reading.finding.rule.name] += 1
                check(report, reading)

    holds()
    assert sum(told.values()) > sum(found.values()) / 2


def test_each_kind_of_reading_has_remedies_among_made_up_plans() -> None:
    told: Counter[str] = Counter()
    for seed in _SEEDS:
        given_plan = solved(text_of(Random(seed)))
        assert given_plan is not None
        report = read_form(*given_plan)
        for reading in report.readings:
            if reading.remedy is not None:
                check(report, reading)
                told[reading.finding.rule.name] += 1
    assert set(told) == set(RULES)
