"""A plan of which the beginning was played: compared with the plan that says so itself."""

import pytest

from bridge.errors import UsageError
from bridge.plan import load, with_played
from bridge.shape import Solved, solve

PLAN = """
pulsebridge: 1
title: Slack Water
tempo: 120
meter: 4/4
total: {{about: "5:00"}}
layers:
  band: {{cycle: 4 bars}}
  drum: {{cycle: 3/16}}
sections:
  - {{name: Prelude, layers: [band], {prelude}}}
  - {{name: Crossing, layers: [band, drum], {crossing}, runs_on: true}}
  - {{name: Undertow, layers: [band, drum], length: {{about: "0:40"}}}}
  - name: Landfall
    layers: [band, drum]
    length: {{about: "1:00"}}
    pays_off: {{section: [Crossing, Undertow], ratio: 1}}
  - {{name: Ebb, layers: [band], length: {{about: "1:00"}}}}
"""


def plan(*, prelude="bars: 8", crossing='length: {about: "0:48", at_most: 30 bars}'):
    return load(PLAN.format(prelude=prelude, crossing=crossing))


def bars(one):
    solved = solve(one)
    assert isinstance(solved, Solved)
    assert solved.proven
    return solved.bars


@pytest.mark.parametrize("played", [5, 24, 26, 35, 61])
def test_the_rest_is_what_a_plan_with_those_bars_fixed_would_be(played):
    fixed = plan(crossing=f"bars: {played}, resolve: []")
    assert bars(with_played(plan(), {"Prelude": 8, "Crossing": played})) == bars(fixed)


def test_what_was_demanded_of_a_played_section_is_over():
    assert bars(with_played(plan(), {"Crossing": 61}))[1] == 61


def test_a_section_that_was_left_out_is_not_in_the_rest():
    left = with_played(plan(), {"Crossing": 0})
    assert [section.name for section in left.sections] == ["Prelude", "Undertow", "Landfall", "Ebb"]
    assert left.sections[2].pays_off.sections == (1,)
    assert [section.index for section in left.sections] == [0, 1, 2, 3]


def test_the_last_section_left_never_runs_on():
    left = with_played(plan(), {"Undertow": 0, "Landfall": 0, "Ebb": 0})
    assert not left.sections[-1].runs_on


def test_an_unknown_name_is_refused_with_the_near_one():
    with pytest.raises(UsageError, match="no section of the plan is called 'Crosing'") as caught:
        with_played(plan(), {"Crosing": 3})
    assert caught.value.hint == "Did you mean 'Crossing'?"
    with pytest.raises(UsageError, match="every section was left out"):
        with_played(plan(), dict.fromkeys(["Prelude", "Crossing", "Undertow", "Landfall", "Ebb"], 0))
