"""Variations: what each device does, and how far from the original it goes."""

from __future__ import annotations

from itertools import combinations_with_replacement

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.craft.groove import parse_groove, step_weights
from bridge.craft.pattern import Pattern
from bridge.craft.vary import (
    displace,
    invert,
    make_even,
    moves_between,
    rotate,
    steps_between,
    thicken,
    thin,
    variations,
)
from bridge.errors import MusicError, PlanError
from bridge.exact import Length, Meters

COMMON = Meters.parse("4/4")
LOW, HIGH = "x..x..x.|x..x..x.", ".xx.xx.x|.xx.xx.x"


def drums(low: str = LOW, high: str = HIGH):
    return parse_groove({"low": low, "high": high}, unit=Length("1/8"), meters=COMMON)


def shown(groove):
    return [groove.show(pattern) for _, pattern in groove.voices]


plain = st.integers(2, 12).flatmap(
    lambda steps: (
        st.lists(st.integers(0, 1), min_size=steps, max_size=steps)
        .filter(any)
        .map(lambda hits: Pattern(tuple(hits)))
    )
)


def test_a_groove_of_threes_varies_by_swapping_low_and_high_in_the_second_bar():
    # Common practice, no source.
    assert shown(invert(drums(), "low", "high", bar=2)) == ["x..x..x.|.xx.xx.x", ".xx.xx.x|x..x..x."]


def test_inverting_twice_is_the_original():
    once = invert(drums(), "low", "high")
    assert shown(once) == [HIGH, LOW]
    assert invert(once, "low", "high") == drums()


def test_a_swap_that_would_silence_a_voice_is_refused_and_never_offered():
    groove = drums("........|x...x...", "x.x.x.x.|........")
    with pytest.raises(MusicError, match="no hit left"):
        invert(groove, "low", "high", bar=2)
    assert not [one for one in variations(groove, step_weights(groove, COMMON)) if "in bar 2" in one.how]


def test_a_bar_that_is_not_there_is_refused():
    with pytest.raises(PlanError, match="bars 1 to 2, not 3"):
        invert(drums(), "low", "high", bar=3)


def test_rotating_moves_everybody_and_displacing_one_against_the_rest():
    assert shown(rotate(drums(), 1))[0] == "..x..x.x|..x..x.x"
    moved = displace(drums(), "high", 1)
    assert shown(moved) == [LOW, "x.xx.xx.|x.xx.xx."]
    assert displace(moved, "high", -1) == drums()


def test_thinning_leaves_out_the_weakest_hit_and_never_an_accent():
    weights = (0, -3, -2, -3, -1, -3, -2, -3)
    assert str(thin(Pattern.parse("xx.xx..x"), weights)) == "xx.xx..."
    assert str(thin(Pattern.parse("xx.xx..X"), weights)) == "xx..x..X"
    assert thin(Pattern.parse("X..X...."), weights) is None
    assert thin(Pattern.parse("x......."), weights) is None


def test_thickening_fills_the_middle_of_the_longest_silence_on_its_stronger_side():
    weights = (0, -3, -2, -3, -1, -3, -2, -3)
    assert str(thicken(Pattern.parse("x..x...."), weights)) == "x..x..x."
    assert thicken(Pattern.parse("xxxxxxxx"), weights) is None


@settings(max_examples=60, deadline=None)
@given(plain)
def test_thinning_and_thickening_change_one_step(pattern):
    weights = tuple(range(len(pattern.steps)))
    for made, more in ((thin(pattern, weights), -1), (thicken(pattern, weights), 1)):
        if made is not None:
            assert len(made.onsets) == len(pattern.onsets) + more
            assert sum(a != b for a, b in zip(pattern.steps, made.steps, strict=True)) == 1


@settings(max_examples=60, deadline=None)
@given(plain)
def test_an_even_version_keeps_the_hits_and_where_they_begin(pattern):
    made = make_even(pattern)
    assert len(made.onsets) == len(pattern.onsets)
    assert made.steps[pattern.onsets[0]]


@settings(max_examples=60, deadline=None)
@given(plain, plain)
def test_the_moves_between_are_the_least_by_trying_every_way(one, two):
    many, few = sorted((one.onsets, two.onsets), key=len, reverse=True)
    ways = combinations_with_replacement(range(len(few)), len(many))
    least = min(
        sum(abs(hit - few[target]) for hit, target in zip(many, way, strict=True))
        for way in ways
        if set(way) == set(range(len(few)))
    )
    assert moves_between(one, two) == moves_between(two, one) == least


def test_every_variation_is_named_and_its_distance_is_right():
    groove = drums()
    found = list(variations(groove, step_weights(groove, COMMON)))
    assert {one.name for one in found} == {"rotate", "displace", "invert", "thin", "thicken", "even"}
    for one in found:
        assert one.steps_changed == steps_between(groove, one.groove) > 0


def test_a_device_that_changes_nothing_is_left_out():
    groove = parse_groove({"low": "x.x.x.x."}, unit=Length("1/8"), meters=COMMON)
    found = [one.name for one in variations(groove, step_weights(groove, COMMON), by=2)]
    assert found == ["thin", "thicken"]
