"""A vamp and a free passage in a plan file: what they come to, and what makes no sense beside them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.errors import PlanError
from bridge.exact import Bars, Meters, Seconds, seconds_of
from bridge.plan import dump, load
from bridge.plan.model import Free, Vamp
from tests.plan.texts import loaded, pointed_at, refused, song

A = "name: A, layers: [band, drum], bars: 12"
FREE = 'name: F, free: {about: "0:45"}'


@pytest.mark.parametrize(
    ("keys", "vamp", "about"),
    [
        ("vamp: true, bars: 8", Vamp(), None),
        ("vamp: false, bars: 8", None, None),
        ("vamp: {at_least: 12 bars}", Vamp(at_least=Bars(12)), Bars(12)),
        ("vamp: {at_least: 12}, bars: 16", Vamp(at_least=Bars(12)), None),
        ("vamp: {at_least: 0:30}, length: {about: 1:00}", Vamp(at_least=Seconds(Fraction(30))), "1:00"),
        ("vamp: {at_least: 12}, length: {at_least: 8}", Vamp(at_least=Bars(12)), Bars(8)),
    ],
)
def test_a_vamps_least_is_its_wish_only_where_there_is_no_other(
    keys: str, vamp: object, about: object
) -> None:
    section = loaded(f"name: A, layers: [band], {keys}").sections[0]
    assert section.vamp == vamp
    assert section.about == (Seconds(Fraction(60)) if about == "1:00" else about)


@pytest.mark.parametrize(
    ("meter", "about", "bars", "bpm"),
    [
        ("4/4", "0:45", 1, Fraction(240, 45)),
        ("4/4", "1:00", 1, Fraction(4)),
        ("4/4", "60.5s", 2, Fraction(480, 1) / Fraction("60.5")),
        ("3/4", "0:18", 1, Fraction(10)),
        ("7/8", "2:30", 3, Fraction(7 * 240 * 3, 8 * 150)),
        ("4/4", "240ms", 1, Fraction(1000)),
        ("[4/4, 3/4]", "1:20", 2, Fraction(420, 80)),
    ],
)
def test_a_free_passage_is_the_fewest_bars_at_the_tempo_that_makes_them_last(
    meter: str, about: str, bars: int, bpm: Fraction
) -> None:
    section = loaded(f"name: F, free: {{about: {about}}}, meter: {meter}", A).sections[0]
    assert section.bars == bars
    assert section.tempo.start == section.tempo.end == bpm
    assert section.free is not None
    assert seconds_of(section.meters.of_bars(bars), section.tempo) == section.free.about


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.fractions(min_value=Fraction(1, 50), max_value=Fraction(86400), max_denominator=1000),
    st.lists(
        st.tuples(st.integers(1, 12), st.sampled_from([2, 4, 8, 16, 64])).map(lambda m: f"{m[0]}/{m[1]}"),
        min_size=1,
        max_size=3,
    ),
)
def test_no_fewer_bars_would_have_a_tempo(about: Fraction, row: list[str]) -> None:
    meters = Meters.parse(",".join(row))
    try:
        bars, tempo = Free(about=about).on_the_bar_axis(meters)
    except PlanError:
        assert meters.of_bars(1).whole_notes * 240 / about > 1000 or len(row) > 1
        return
    assert seconds_of(meters.of_bars(bars), tempo) == about
    assert all(meters.of_bars(n).whole_notes * 240 / about < 4 for n in range(max(1, bars - 3), bars))


def test_who_plays_freely_has_no_turns_there() -> None:
    section = loaded("name: F, free: {about: 0:45}, layers: [drum, band]", A).sections[0]
    assert section.free == Free(about=Fraction(45), layers=("band", "drum"))
    assert section.layers == ()
    assert section.resolve == ()


def test_layers_may_be_left_out_of_a_free_passage_only() -> None:
    assert loaded(FREE).sections[0].free == Free(about=Fraction(45))
    assert "lacks the key 'layers'" in refused(song("name: A, vamp: true, bars: 3")).message


def test_what_follows_a_free_passage_has_the_songs_tempo_and_begins_anew() -> None:
    plan = loaded("name: A, layers: [drum], bars: 7, resolve: []", FREE, "name: B, layers: [drum], bars: 6")
    assert plan.sections[2].tempo.start == 120
    assert [len(run) for run in plan.runs] == [1, 1, 1]


def test_a_range_of_tempi_leaves_the_free_passage_alone() -> None:
    plan = loaded(FREE, A, tempo="{between: [110, 118]}")
    assert plan.at_tempo(Fraction(112)).sections[0].tempo.start == Fraction(240, 45)
    assert load(dump(plan)) == plan


@pytest.mark.parametrize(
    ("key", "value", "why"),
    [
        ("bars", "8", "so many seconds"),
        ("length", "{about: 8 bars}", "so many seconds"),
        ("same_length_as", "A", "so many seconds"),
        ("weight", "2", "so many seconds"),
        ("vamp", "true", "until it is released"),
        ("tempo", "90", "no bars and no beat"),
        ("tempo", "{from: 90, to: 120}", "no bars and no beat"),
        ("count_in", "1 bar", "counted in"),
        ("pickup", "1/4", "pickup"),
        ("runs_on", "true", "ends a run"),
        ("resolve", "[]", "no cycle turns"),
        ("meets", "once", "no cycle turns"),
        ("tighten", "{layer: drum, cycles: [2/8, 1/8], over: 2}", "no cycle turns"),
    ],
)
def test_keys_that_make_no_sense_in_a_free_passage_are_refused_with_the_reason(
    key: str, value: str, why: str
) -> None:
    error = refused(song(A, f"{FREE}, {key}: {value}", "name: Z, layers: [], bars: 1"))
    assert f"{key!r} makes no sense in 'F'" in error.message
    assert why in error.message
    assert pointed_at(error).startswith(f"{key}:")


@pytest.mark.parametrize(
    ("sections", "says", "at"),
    [
        ([A + ", runs_on: true", FREE], "cannot run on into 'F'", "runs_on"),
        ([FREE, "name: B, layers: [band], same_length_as: F"], "which has none", "F}"),
        ([FREE, A + ", tempo: {pivot: 3/16, becomes: 1/4}"], "has none", "{pivot"),
        ([FREE, A + ", pickup: 1/4"], "no beat", "pickup"),
        ([A, FREE + ", pays_off: {section: A, ratio: 1}"], "no ratio", "ratio"),
        (["name: F, free: {about: 0:45}, layers: [{band: {rate: 2}}]"], "nothing can be other", "band"),
        (["name: F, free: {about: 0:45}, layers: [bnad]"], "there is no layer", "bnad"),
        (["name: F, free: {about: 100ms}"], "too short", "100ms"),
        (["name: F, free: {about: 8 bars}"], "a time, not bars", "8 bars"),
        (["name: F, free: {}"], "lacks the key 'about'", "{}"),
        (["name: F, free: true"], "a free passage is a group", "true"),
        (["name: F, layers: [], bars: 2, vamp: yes"], "'vamp' is true or false", "yes"),
        (["name: F, layers: [], bars: 2, vamp: {about: 3}"], "no key 'about'", "about"),
        (["name: F, layers: [], vamp: true"], "has no length", "{name"),
    ],
)
def test_what_cannot_be_is_refused_where_it_stands(sections: list[str], says: str, at: str) -> None:
    error = refused(song(*sections))
    assert says in error.message
    assert pointed_at(error).startswith(at)


def test_a_payoff_may_count_a_free_passages_seconds_and_a_free_passage_may_answer() -> None:
    plan = loaded(
        FREE,
        "name: B, layers: [band], length: {about: 1:00}, pays_off: {section: [F], ratio: 1}",
        'name: G, free: {about: "0:10"}, pays_off: B',
    )
    assert plan.sections[1].pays_off is not None
    assert plan.sections[2].pays_off is not None


def test_a_plan_of_free_passages_only_is_written_and_read_again() -> None:
    plan = loaded(FREE + ", meter: 3/4, layers: [drum]", "name: G, free: {about: 1.25s}")
    assert load(dump(plan)) == plan
