"""The planner and plain enumeration agree on small songs of every kind."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, Phase, given, settings

from bridge.plan.model import Plan
from bridge.shape import Demand, Infeasible, Solved, solve
from bridge.shape.passage import in_tenths
from tests.shape.enumeration import cheapest_plan, cost, is_allowed, off
from tests.shape.strategies import MOST, small_songs

_QUIET = [HealthCheck.too_slow, HealthCheck.filter_too_much]


@settings(
    max_examples=100, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(small_songs())
def test_the_cost_the_tie_and_the_impossible_are_what_enumeration_says(plan: Plan) -> None:
    expected = cheapest_plan(plan, _most(plan))
    found = solve(plan)
    if expected is None:
        assert isinstance(found, Infeasible)
        return
    assert isinstance(found, Solved)
    assert is_allowed(plan, found.bars)
    assert found.proven
    assert found.cost == cost(plan, found.bars) == expected[1]
    assert off(plan, found.bars) == expected[2]


@settings(
    max_examples=40, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(small_songs())
def test_a_conflict_cannot_hold_and_without_any_one_demand_it_can(plan: Plan) -> None:
    found = solve(plan)
    if not isinstance(found, Infeasible):
        return
    assert found.irreducible
    assert found.conflict
    only = _only(plan, found.conflict)
    assert only is None or isinstance(solve(only), Infeasible)
    for demand in found.conflict:
        rest = _only(plan, [other for other in found.conflict if other != demand])
        if rest is not None and demand.kind != "day":
            fits = solve(rest)
            assert isinstance(fits, Solved)
            assert is_allowed(rest, fits.bars)


@settings(
    max_examples=20, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(small_songs())
def test_the_same_plan_has_the_same_answer(plan: Plan) -> None:
    assert solve(plan) == solve(plan)


@settings(
    max_examples=40, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(small_songs())
def test_with_hardly_any_effort_the_bound_still_holds(plan: Plan) -> None:
    best = solve(plan)
    hasty = solve(plan, effort=1)
    if isinstance(hasty, Solved):
        assert isinstance(best, Solved)
        assert is_allowed(plan, hasty.bars)
        assert hasty.bound <= best.cost <= hasty.cost
    if isinstance(hasty, Infeasible):
        assert isinstance(best, Infeasible)


def _most(plan: Plan) -> int:
    """No section may be longer: each has its at_most, in bars or in seconds no shorter than half a bar."""
    return 4 * MOST[len(plan.sections)]


def _only(plan: Plan, demands: list[Demand] | tuple[Demand, ...]) -> Plan | None:
    """The plan with these demands and no others; None where no plan can say so.

    None can say who meets only once but need not be home at the end.
    """
    kept = {(demand.kind, demand.section) for demand in demands}
    sections = []
    for section in plan.sections:
        holds = {kind for kind, index in kept if index == section.index}
        dropped: dict[str, object] = {
            key: None
            for key in ("bars", "at_least", "at_most", "same_length_as", "pays_off", "vamp")
            if key not in holds and not (key == "bars" and section.free is not None)
        }
        if "settled" not in holds:
            dropped["settled_bars"] = None
        if "meets" not in holds:
            dropped["meets_once"] = False
            if "resolve" not in holds:
                dropped["resolve"] = ()
        elif "resolve" not in holds:
            return None
        loose = section.free is not None and "free" not in holds
        sections.append(replace(in_tenths(section) if loose else section, **dropped))
    total = plan.total
    if total is not None and ("within", None) not in kept:
        total = replace(total, within=None)
    return replace(plan, sections=tuple(sections), total=total)
