"""Meetings within a tolerance: against walking, and bounded where walking is not."""

from __future__ import annotations

from fractions import Fraction
from itertools import islice, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.cycles import near_lengths, near_meetings, nearest, off_home
from bridge.errors import MusicError, PlanError
from bridge.exact import Length, Meters

from .material import METERS, layer, some_layers

tolerances = st.sampled_from(["1/64", "1/32", "1/10", "1/500", "1/4"]).map(Length)
END = 80


def homes(one, before):
    at, found = one.start, []
    while at < before:
        found.append(at)
        at += one.turn
    return found


def far(one, at):
    return min(abs(home - at) for home in homes(one, at + one.turn + one.start + Length(1)))


@settings(max_examples=80)
@given(METERS, some_layers(1, 3), tolerances)
def test_near_lengths_are_those_that_walking_bar_by_bar_finds(meters, layers, within):
    near = near_lengths(meters, layers, within=within)
    walked = [
        n for n in range(1, END + 1) if all(abs(off_home(one, meters.of_bars(n))) <= within for one in layers)
    ]
    assert [n for n in islice(near, len(walked) + 1) if n <= END] == walked
    assert [n for n in range(1, END + 1) if n in near] == walked
    assert near.at_or_before(END) == max(walked, default=None)
    if near.period_bars is None:
        assert walked == []
    else:
        assert all(n + near.period_bars in near for n in walked)


@given(some_layers(1, 1), st.fractions(min_value=0, max_value=12, max_denominator=48).map(Length))
def test_how_far_off_is_the_distance_to_the_nearest_home(layers, at):
    (one,) = layers
    off = off_home(one, at)
    assert abs(off) == far(one, at)
    assert one.is_home(at + off)


@settings(max_examples=80)
@given(some_layers(2, 3), st.sampled_from(["1/64", "1/40", "1/500"]).map(Length))
def test_near_meetings_are_those_that_walking_finds(layers, within):
    before = Length(8)
    if any(within * 2 >= one.turn for one in layers):
        with pytest.raises(PlanError, match="half a turn"):
            list(near_meetings(layers, within=within, after=Length(0), before=before))
        return
    walked = []
    for first in homes(layers[0], before + within):
        rows = (homes(one, before + within) for one in layers[1:])
        close = [[home for home in row if abs(home - first) <= within] for row in rows]
        for others in product(*close):
            found = (first, *others)
            if max(found) - min(found) <= within and Length(0) < min(found) < before:
                walked.append(found)
    ours = [it.homes for it in near_meetings(layers, within=within, after=Length(0), before=before)]
    assert ours == sorted(walked, key=min)


def test_drifting_layers_come_near_before_and_after_they_meet():
    layers = [layer("figure", "3/4"), layer("second", "3/4", 0, "73/72")]
    met = list(near_meetings(layers, within=Length("1/96"), after=Length(0), before=Length(108)))
    assert [str(it.at) for it in met] == ["54/73", "213/4", "54", "3996/73", "429/4"]
    assert [str(it.spread) for it in met] == ["3/292", "3/292", "0", "3/292", "3/292"]


def test_layers_that_never_meet_exactly_do_within_a_tolerance():
    layers = [layer("band", 1), layer("late", 1, "1/100")]
    met = list(islice(near_meetings(layers, within=Length("1/50"), after=Length(0), before=Length(9)), 2))
    assert [it.homes for it in met] == [(Length(1), Length("101/100")), (Length(2), Length("201/100"))]
    assert {it.spread for it in met} == {Length("1/100")}


def test_a_far_meeting_is_leapt_to_not_walked_to():
    layers = [layer("a", 1), layer("b", 1, 0, Fraction(10**9 + 1, 10**9))]
    near = near_lengths(Meters.parse("4/4"), layers, within=Length("1/1000000"))
    assert near.at_or_after(2000) == 10**9 - 1000
    assert near.at_or_before(10**9 - 1001) == 1000
    assert near.period_bars == 10**9


def test_a_search_without_end_gives_up_aloud():
    layers = [
        layer(str(prime), f"{prime + 1}/{prime}", "1/2")
        for prime in (10007, 10009, 10037, 10039, 10061, 10067, 10069, 10079)
    ]
    with pytest.raises(MusicError, match="leaps"):
        near_lengths(Meters.parse("4/4"), layers, within=Length("1/2000"))


def test_the_nearest_within_a_tolerance_is_among_those_near():
    near = near_lengths(
        Meters.parse("4/4"), [layer("a", 1), layer("b", 1, 0, "101/100")], within=Length("1/50")
    )
    found = nearest(near, Length(60))
    assert found in near
    assert near.off(found)[0] == Length(0)
