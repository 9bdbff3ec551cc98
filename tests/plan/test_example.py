"""The shipped example: it loads, it solves as its comments say, and it shows what it should."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.exact import seconds_of
from bridge.plan import Plan, dump, load
from bridge.shape import Solved, solve

EXAMPLE = Path(__file__).parents[2] / "examples" / "low-tide-relay.yaml"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return load(EXAMPLE.read_bytes(), source=EXAMPLE.name)


@pytest.fixture(scope="module")
def solved(plan: Plan) -> Solved:
    outcome = solve(plan)
    assert isinstance(outcome, Solved)
    return outcome


def test_it_solves_with_proof_at_the_lengths_that_its_comments_promise(plan: Plan, solved: Solved) -> None:
    assert solved.proven
    assert dict(zip([section.name for section in plan.sections], solved.bars, strict=True)) == {
        "Prelude": 16,
        "Slack Water": 24,
        "First Light": 24,
        "Causeway": 24,
        "Shallows": 12,
        "Crossing": 32,
        "Undertow": 38,
        "Hush": 2,
        "Landfall": 72,
        "Drift": 54,
        "Ebb": 24,
    }


def test_it_lasts_about_eleven_minutes(plan: Plan, solved: Solved) -> None:
    seconds = sum(
        seconds_of(section.meters.of_bars(bars), section.tempo)
        for section, bars in zip(plan.sections, solved.bars, strict=True)
    )
    assert 640 <= seconds <= 680


def test_it_shows_runs_a_pause_before_the_payoff_and_one_change_of_meter(plan: Plan) -> None:
    names = [section.name for section in plan.sections]
    payoff = plan.sections[names.index("Landfall")]
    pause = plan.sections[payoff.index - 1]
    assert len(names) >= 9
    assert len(plan.layers) >= 3
    assert payoff.pays_off is not None
    assert payoff.pays_off.ratio == 1
    assert pause.layers == ()
    assert pause.resolve == ("band", "hand drum", "undertow")
    assert [section.name for run in plan.runs if len(run) > 1 for section in run] == [
        "Crossing",
        "Undertow",
        "Hush",
    ]
    assert [section.name for section in plan.sections if str(section.meters) != "4/4"] == ["Causeway"]


def test_it_can_be_written_and_read_again(plan: Plan) -> None:
    assert load(dump(plan)) == plan
