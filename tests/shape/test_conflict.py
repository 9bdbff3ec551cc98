"""Where nothing fits: which demands, where they stand, and what would help."""

from __future__ import annotations

from bridge.plan.model import Plan
from bridge.shape import Infeasible, solve
from tests.shape.factory import layer, plan, section, total

BAND, DRUM = layer("band", 4), layer("drum", "3/16")
PAIR = (BAND, DRUM)


def impossible(given: Plan) -> Infeasible:
    found = solve(given)
    assert isinstance(found, Infeasible)
    assert found.irreducible
    return found


def texts(found: Infeasible) -> list[str]:
    return [demand.text for demand in found.conflict]


def helps(found: Infeasible) -> list[str]:
    return [relaxation.text for relaxation in found.relaxations]


def test_a_section_that_cannot_resolve_is_told_the_nearest_lengths_that_do() -> None:
    found = impossible(
        plan(PAIR, [section("Prelude", "band", bars=16), section("Crossing", "band drum", bars=70)])
    )
    assert texts(found) == ["Crossing has 70 bars", "band and drum are home at the end of Crossing"]
    assert "Crossing needs 2 bars more (72), or 10 bars fewer (60)" in helps(found)
    assert [demand.where and demand.where.line for demand in found.conflict] == [11, 11]


def test_layers_that_are_never_home_together_are_named_with_the_reason() -> None:
    odd = layer("odd", 1, start="1/8")
    found = impossible(plan((BAND, odd), [section("Crossing", "band odd", about=70)]))
    assert texts(found) == ["band and odd are home at the end of Crossing"]
    assert "'band' and 'odd' are never home together" in helps(found)[0]


def test_a_total_too_short_says_what_the_section_and_what_the_total_need() -> None:
    song = [section("Prelude", "band", at_least=40), section("Crossing", "band drum", at_least=60)]
    found = impossible(plan(PAIR, song, song=total(150, within=10)))
    assert texts(found) == [
        "Prelude lasts at least 40 bars",
        "Crossing lasts at least 60 bars",
        "the total is 2:20 to 2:40",
    ]
    assert helps(found) == [
        "Prelude needs 20 bars fewer (20)",
        "Crossing needs 24 bars fewer (36)",
        "the total needs 40 s more",
    ]


def test_a_total_too_long_says_how_many_bars_more() -> None:
    song = [section("Prelude", "band", bars=16), section("Crossing", "band drum", about=24, at_most=24)]
    found = impossible(plan(PAIR, song, song=total(104, within=3)))
    assert helps(found) == [
        "Prelude needs 12 bars more (28)",
        "Crossing needs 12 bars more (36)",
        "the total needs 21 s less",
    ]


def test_a_payoff_that_cannot_be_long_enough_tells_the_ratio_that_holds() -> None:
    song = [
        section("Crossing", "band", at_least=40),
        section("Landfall", "band drum", about=24, at_most=24, pays_off=("Crossing", "1")),
    ]
    found = impossible(plan(PAIR, song))
    assert texts(found)[-1] == "Landfall lasts at least as long as Crossing"
    assert "Landfall stays 32 s short of 1 times Crossing: a ratio of 0.6 holds" in helps(found)


def test_sections_of_one_length_that_cannot_agree() -> None:
    song = [
        section("Prelude", "band", bars=16),
        section("Ebb", "band", same_length_as="Prelude", at_least="60"),
    ]
    found = impossible(plan(PAIR, song))
    assert texts(found) == [
        "Prelude has 16 bars",
        "Ebb lasts at least 1:00",
        "Ebb has as many bars as Prelude",
    ]


def test_a_meeting_too_early_is_a_conflict_of_its_own() -> None:
    found = impossible(plan(PAIR, [section("Crossing", "band drum", about=16, at_least=13, meets_once=True)]))
    assert texts(found)[-1] == "band and drum meet in Crossing only at its end"
    assert "Crossing needs 1 bar fewer (12)" in helps(found)


def test_a_run_names_the_sections_that_keep_it_from_coming_home() -> None:
    song = [section("Prelude", "band", bars=3, runs_on=True), section("Crossing", "band drum", bars=12)]
    found = impossible(plan(PAIR, song))
    assert texts(found) == [
        "Prelude has 3 bars",
        "Crossing has 12 bars",
        "band and drum are home at the end of Crossing",
    ]


def test_a_song_of_more_than_a_day_names_the_day_without_a_line() -> None:
    song = [section(f"S{at}", "band", at_least=13000) for at in range(4)]
    found = impossible(plan(PAIR, song))
    assert texts(found)[-1] == "a song lasts at most 24 hours"
    assert found.conflict[-1].where is None


def test_only_the_sections_at_fault_are_named_in_a_long_song() -> None:
    song = [section(f"S{at}", "band drum", about=60) for at in range(60)]
    song[40]["bars"] = 70
    found = impossible(plan(PAIR, song, song=total(7200, within=30)))
    assert {demand.section for demand in found.conflict} == {40}
