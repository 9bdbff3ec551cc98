"""Landings that are earned: against trying every cycle."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.cycles import Layer, earned_cycles, meetings
from bridge.errors import PlanError
from bridge.exact import Length

from .material import layer, some_layers


@given(some_layers(1, 2), st.integers(1, 40), st.sampled_from(["1/16", "1/12", "1/8"]).map(Length))
def test_the_cycles_are_those_that_trying_each_finds(others, halves, grid):
    span = Length(1) * halves / 2
    tried = []
    cycle = grid
    while cycle <= span:
        row = meetings([*others, Layer(name="it", cycle=cycle)])
        if row is not None and not span % cycle and next(row.between(Length(0), span + grid), None) == span:
            tried.append(cycle)
        cycle += grid
    found = earned_cycles(span, others, grid=grid)
    assert list(found.cycles) == tried
    assert (found.why is None) == bool(tried)


def test_seventeen_sixteenths_over_four_bars_meet_once_in_68():
    found = earned_cycles(Length(68), [layer("band", 4)], grid=Length("1/16"))
    assert [str(cycle) for cycle in found.cycles] == ["17/16", "17/8", "17/4", "17/2", "17", "34", "68"]


@pytest.mark.parametrize(
    ("span", "others", "grid", "said"),
    [
        (10, [layer("band", 4)], "1/16", "they meet at 8 and at 12"),
        (2, [layer("band", 4, 3)], "1/16", "they meet first at 3"),
        (12, [layer("band", 4), layer("off", 4, 1)], "1/16", "never home together"),
        ("15/8", [layer("band", "15/8")], "1/4", "no multiple of the grid, 1/4; 1/8 divides"),
    ],
)
def test_when_there_is_none_it_says_why(span, others, grid, said):
    found = earned_cycles(Length(span), others, grid=Length(grid))
    assert found.cycles == ()
    assert said in str(found.why)


def test_a_grid_too_fine_to_search_is_refused():
    with pytest.raises(PlanError, match="at most"):
        earned_cycles(Length(10**6), [layer("band", 1)], grid=Length("1/99999999"))
