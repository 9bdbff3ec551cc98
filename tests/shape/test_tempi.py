"""A wished range of tempi: the answer is the best of all tempi of its grid, each solved on its own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from bridge.exact import Length, Tempo
from bridge.plan.model import Pivot, Plan, TempoRange
from bridge.shape import Infeasible, Solved, best, solve
from bridge.song import unroll
from tests.shape.enumeration import all_seconds
from tests.shape.factory import layer, plan, section, total
from tests.shape.strategies import song_of

_QUIET = [HealthCheck.too_slow]


def opened(made: Plan, low: str, high: str) -> Plan:
    """The plan with a range for the sections at the first one's tempo."""
    wished = TempoRange(low=Fraction(low), high=Fraction(high))
    fastest = Tempo.constant(wished.grid[-1])
    song = made.sections[0].tempo
    sections = tuple(
        replace(one, tempo=fastest, in_range=True) if one.tempo == song else one for one in made.sections
    )
    return replace(made, sections=sections, tempo_range=wished)


def ranged_songs() -> st.SearchStrategy[Plan]:
    def made(seed: int) -> Plan:
        random = Random(seed)
        low = random.choice(["100", "89.95", "120.4"])
        wide = Fraction(random.randint(1, 6), 10)
        return opened(song_of(random), low, str(Fraction(low) + wide))

    return (
        st.integers(0, 2**32).map(made).filter(lambda plan: bool(plan.tempo_range and plan.tempo_range.grid))
    )


@settings(
    max_examples=30, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(ranged_songs())
def test_the_best_tempo_is_the_one_that_solving_each_alone_finds(made: Plan) -> None:
    assert made.tempo_range is not None
    each = {bpm: best(made.at_tempo(bpm)) for bpm in made.tempo_range.grid}
    keys = {
        bpm: (found.cost, _off(made.at_tempo(bpm), found.bars), bpm)
        for bpm, found in each.items()
        if found is not None
    }
    found = solve(made)
    if not keys:
        assert isinstance(found, Infeasible)
        assert found.tempo in made.tempo_range.grid
        return
    assert isinstance(found, Solved)
    assert found.tempo is not None
    cost, off, bpm = min(keys.values())
    assert found.proven
    assert (found.cost, found.tempo) == (cost, bpm)
    assert _off(made.at_tempo(bpm), found.bars) == off


@settings(
    max_examples=40, deadline=None, derandomize=True, phases=[Phase.generate], suppress_health_check=_QUIET
)
@given(ranged_songs())
def test_with_hardly_any_effort_the_bound_still_holds_for_all_tempi(made: Plan) -> None:
    well, hasty = best(made), best(made, effort=1)
    if hasty is not None:
        assert well is not None
        assert hasty.bound <= well.cost <= hasty.cost


def _off(made: Plan, bars: tuple[int, ...]) -> Fraction:
    return abs(all_seconds(made, bars) - made.total.about) if made.total else Fraction(0)


def test_72_bars_of_the_trade_want_115_2() -> None:
    # 72 bars of 4/4 in 2:30 is 115.2 quarter notes a minute (checks.md; common practice, no source)
    made = plan(
        [layer("band", 4), layer("drum", "3/16")],
        [section("Crossing", "band drum", about="150", at_least=72, at_most=72)],
    )
    found = solve(opened(made, "108", "118"))
    assert isinstance(found, Solved)
    assert (found.tempo, found.bars, found.cost) == (Fraction("115.2"), (72,), 0)
    assert found.proven


def test_of_equally_good_tempi_it_takes_the_one_whose_total_is_nearest_then_the_slowest() -> None:
    bars_only = plan([], [section("A", "", bars=8)])
    slowest = solve(opened(bars_only, "100", "101"))
    assert isinstance(slowest, Solved)
    assert slowest.tempo == 100
    near = solve(replace(opened(bars_only, "100", "101"), total=total("19.05", weight=0)))
    assert isinstance(near, Solved)
    assert near.tempo == min(
        (Fraction(1000 + tenth, 10) for tenth in range(11)),
        key=lambda bpm: (abs(8 * 240 / bpm - Fraction("19.05")), bpm),
    )


def test_a_modulation_follows_the_tempo_and_a_section_with_its_own_keeps_it() -> None:
    made = opened(plan([], [section("A", "", bars=1), section("B", "", bars=1, tempo="90")]), "100", "101")
    third = replace(
        made.sections[0],
        index=2,
        name="C",
        in_range=False,
        pivot=Pivot(old=Length("3/16"), new=Length("1/4")),
    )
    fourth = replace(made.sections[0], index=3, name="D")
    made = replace(made, sections=(*made.sections, third, fourth))
    at = made.at_tempo(Fraction("100.4"))
    assert [one.tempo for one in at.sections] == [
        Tempo.constant(Fraction(bpm)) for bpm in ("100.4", "90", "120", "100.4")
    ]
    assert at.tempo_range is None
    assert not any(one.in_range for one in at.sections)


def test_nothing_is_unrolled_while_the_tempo_is_open() -> None:
    made = opened(plan([], [section("A", "", bars=1)]), "100", "101")
    with pytest.raises(ValueError, match="still open"):
        unroll(made, [1])
    assert unroll(made.at_tempo(Fraction(100)), [1]).total_seconds == Fraction("2.4")
