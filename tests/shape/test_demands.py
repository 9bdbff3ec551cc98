"""Each kind of demand, on songs small enough to follow by hand.  At 120 a bar of 4/4 lasts 2 s."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from bridge.plan.model import Plan
from bridge.shape import DEFAULT_EFFORT, Solved, solve
from tests.shape.factory import layer, plan, section, total

BAND, DRUM = layer("band", 4), layer("drum", "3/16")
PAIR = (BAND, DRUM)


def solved(given: Plan) -> Solved:
    found = solve(given)
    assert isinstance(found, Solved)
    assert found.proven
    return found


def bars(*sections: dict, layers: tuple = PAIR, **given: object) -> tuple[int, ...]:
    return solved(plan(layers, sections, **given)).bars


def test_a_wish_in_seconds_is_met_at_the_nearest_length_that_resolves() -> None:
    assert bars(section("Crossing", "band drum", about="150"), bpm="115.2") == (72,)


def test_a_wish_in_bars_costs_the_seconds_it_is_off() -> None:
    found = solved(plan(PAIR, [section("Crossing", "band drum", about=70)]))
    assert (found.bars, found.cost) == ((72,), 4)


def test_under_a_ramp_a_wish_in_bars_costs_its_share_of_the_seconds() -> None:
    given = plan(PAIR, [section("Crossing", "band drum", about=13, tempo=("60", "120"))])
    found = solved(given)
    lasts = Fraction(33271064666877)  # 12 bars = 48 quarters: 60·48/60·ln 2 = 33.271064667 s
    assert found.bars == (12,)
    assert abs(found.cost - lasts / 10**12 / 12) < Fraction(1, 10**8)


def test_fixed_bars_are_kept_whatever_they_cost() -> None:
    assert bars(section("Prelude", "band", bars=16), song=total(400)) == (16,)


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ({"at_least": 61}, 72),
        ({"at_most": 59}, 48),
        ({"at_least": "121"}, 72),
        ({"at_most": "119.5"}, 48),
        ({"at_least": "120", "at_most": "120"}, 60),
    ],
)
def test_bounds_count_bars_by_barlines_and_seconds_exactly(limits: dict, expected: int) -> None:
    assert bars(section("Crossing", "band drum", about=60, **limits)) == (expected,)


def test_a_soft_total_is_weighed_against_the_wishes() -> None:
    calm = [section("Prelude", "band", about=16, weight="3"), section("Ebb", "band", about=16)]
    assert bars(*calm, song=total(96, weight=2)) == (16, 32)
    assert bars(*calm, song=total(96, weight="1/2")) == (16, 16)


def test_of_equal_costs_the_total_nearest_its_wish_is_taken() -> None:
    # a second off in a section costs what a second off the total does: only the tie decides
    assert sum(bars(*(section(name, "band", about=16) for name in ("Prelude", "Ebb")), song=total(96))) == 48


def test_a_hard_total_holds_though_the_wishes_pay() -> None:
    found = solved(plan(PAIR, [section("Prelude", "band", about=16)], song=total(96, within=8, weight=0)))
    assert found.bars == (44,)


def test_a_payoff_lasts_as_long_as_the_sum_of_what_it_answers() -> None:
    song = (
        section("Crossing", "band", about=20),
        section("Ascent", "band", about=12),
        section("Landfall", "band drum", about=12, weight="1/8", pays_off=("Crossing Ascent", "3/4")),
    )
    assert bars(*song) == (20, 12, 24)


def test_a_payoff_compares_seconds_not_bars() -> None:
    song = (
        section("Crossing", "band", bars=24),
        section("Landfall", "band", tempo="160", about=8, pays_off=("Crossing", "1")),
    )
    assert bars(*song) == (24, 32)


def test_same_length_as_goes_through_chains_and_both_ways() -> None:
    song = (
        section("Prelude", "band", same_length_as="Crossing"),
        section("Crossing", "drum", about=13),
        section("Ebb", "", same_length_as="Prelude"),
    )
    assert bars(*song) == (12, 12, 12)


def test_settled_sections_keep_their_bars() -> None:
    assert bars(section("Prelude", "band", about=32, settled_bars=28)) == (28,)


def test_nobody_has_to_resolve_where_resolve_is_empty() -> None:
    assert bars(section("Crossing", "band drum", about=13, resolve="")) == (13,)


def test_only_those_named_have_to_be_home() -> None:
    assert bars(section("Crossing", "band drum", about=13, resolve="band")) == (12,)
    assert bars(section("Crossing", "band drum", about=14, resolve="drum")) == (15,)


def test_a_run_carries_phases_so_only_its_whole_has_to_come_home() -> None:
    song = (
        section("Crossing", "band drum", about=13, runs_on=True),
        section("Landfall", "band drum", about=11),
    )
    assert bars(*song) == (13, 11)


def test_a_layer_counts_from_where_it_enters_the_run_and_while_it_is_tacet() -> None:
    song = (
        section("Prelude", "band", about=3, runs_on=True),
        section("Crossing", "drum", about=5, runs_on=True),
        section("Landfall", "band drum", about=4),
    )
    # the band comes home 12 bars after the start, the drum 9 bars after it entered: 3 + 5 + 4 does both
    assert bars(*song) == (3, 5, 4)


def test_a_run_that_ends_in_a_general_pause_brings_all_of_it_home() -> None:
    song = (section("Crossing", "band drum", about=10, runs_on=True), section("Hush", "", about=2))
    assert bars(*song) == (10, 2)
    assert bars(section("Crossing", "band drum", about=12), section("Hush", "", about=3)) == (12, 3)


def test_a_named_resolve_inside_a_run_restarts_nothing() -> None:
    song = (
        section("Crossing", "band drum", about=6, runs_on=True, resolve="drum"),
        section("Landfall", "band drum", about=7),
    )
    assert bars(*song) == (6, 6)


def test_a_first_home_that_comes_late_is_waited_for() -> None:
    late = layer("late", "1/2", start="9/2")
    assert bars(section("Crossing", "late", about=1), layers=(late,)) == (5,)


def test_meets_once_forbids_a_meeting_before_the_end() -> None:
    assert bars(section("Crossing", "band drum", about=40, meets_once=True)) == (12,)


def test_meets_once_sees_meetings_off_the_barline_and_phases_carried_in() -> None:
    three, half = layer("three", "3/8"), layer("half", "1/2")
    # they meet every 3/2: after a bar and a half, between barlines, already
    song = plan((three, half), [section("Crossing", "three half", at_least=1, at_most=3, meets_once=True)])
    assert not isinstance(solve(song), Solved)
    run = (
        section("Prelude", "band drum", bars=9, runs_on=True),
        section("Crossing", "band drum", about=20, meets_once=True),
    )
    assert bars(*run) == (9, 3)


def test_a_list_of_meters_begins_anew_in_each_section() -> None:
    shaker = layer("shaker", "15/8")
    song = [section(name, "shaker", about=1, meter="4/4,7/8") for name in ("Prelude", "Ebb")]
    assert bars(*song, layers=(shaker,)) == (2, 2)


def test_without_a_total_a_song_of_more_than_a_day_is_cut_to_a_day() -> None:
    song = [section(name, "band", about="50000") for name in ("Prelude", "Crossing")]
    found = solved(plan(PAIR, song))
    assert sum(found.bars) * 2 == 86400
    assert found.cost == 13600


def test_enormous_and_tiny_numbers_stay_exact() -> None:
    song = [
        section("Prelude", "band", about="100.000000001", tempo="999.99999999", weight="0.0000000001"),
        section("Crossing", "band drum", about="77.7777777", tempo="123.456789012"),
        section("Ebb", "band", about=9, tempo=("97.0000001", "131.9999999")),
    ]
    found = solve(plan(PAIR, song, song=total("300.00000001", within="20", weight="0.3333333333")))
    assert isinstance(found, Solved)
    assert found.bound <= found.cost


def test_a_period_of_a_million_bars_is_no_search_over_bars() -> None:
    drift = layer("drift", 1, rate="1000001/1000000")
    song = [section("Prelude", "band drift", about=16, runs_on=True), section("Ebb", "band drift", about=16)]
    assert not isinstance(solve(plan((BAND, drift), song)), Solved)


def test_a_section_of_weight_nothing_gives_way_to_the_total() -> None:
    song = [section("Prelude", "band", about=16, weight="0"), section("Ebb", "band", about=16)]
    assert bars(*song, song=total(96)) == (32, 16)


def test_more_effort_never_makes_a_plan_worse_or_a_bound_lower() -> None:
    song = plan(
        PAIR,
        [
            section(f"S{at}", "band drum", about=20 + 7 * at, tempo=t)
            for at, t in enumerate(("97", "113", "131", "89", "101"))
        ],
        song=total(400, within=5),
    )
    little, much = solve(song, effort=100), solve(song, effort=DEFAULT_EFFORT)
    assert isinstance(much, Solved)
    assert much.proven
    if isinstance(little, Solved):
        assert little.bound <= much.cost <= little.cost


def test_progress_tells_the_steps_taken() -> None:
    told: list[int] = []
    song = plan(PAIR, [section("Crossing", "band drum", about=60)], song=total(100))
    solve(song, progress=lambda *, steps: told.append(steps))
    assert told == sorted(told)
    assert told


def test_a_plan_without_a_conflict_has_no_gap_and_one_cut_short_states_it() -> None:
    found = Solved(bars=(1,), cost=Fraction(5), bound=Fraction(4))
    assert (found.gap, found.proven) == (Fraction(1, 5), False)
    assert replace(found, cost=Fraction(1, 2), bound=Fraction(0)).gap == Fraction(1, 2)
