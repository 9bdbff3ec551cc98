"""A set of songs in one timeline: which is played follows from the host's place."""

from __future__ import annotations

from fractions import Fraction

import pytest

from bridge.exact import Place
from bridge.follow.scale import SetScale
from bridge.hostmap import Measure, PositionHeard, Ruler, Unit
from bridge.hostmap import load as load_map
from bridge.hostmap.message import Number
from bridge.live.following import follower_for_set, scale_of
from bridge.plan import load
from bridge.shape import solve
from bridge.song import unroll

SECONDS = Unit(Measure.SECONDS)
MAP = b"""
pulsebridge_host: 1
name: seconds
hears: {position: {address: /where, arg: 0, unit: seconds}}
"""


def song(title: str, tempo: int, bar: int, seconds: int | None = None):
    origin = f"{{bar: {bar}, seconds: {seconds}}}" if seconds is not None else f"{{bar: {bar}}}"
    text = f"""
pulsebridge: 1
title: {title}
tempo: {tempo}
meter: 4/4
origin: {origin}
layers: {{band: {{cycle: 1 bar}}}}
sections: [{{name: Prelude, layers: [band], bars: 10}}]
"""
    plan = load(text.encode(), source=title, solved=None)
    return unroll(plan, solve(plan).bars)


@pytest.fixture(scope="module")
def songs():
    # hand arithmetic: the first lasts 20 s at 120 from the host's start; the second, at 60, begins in bar 21
    # of the host, which it says is after 40 s
    return [song("Low Tide Relay", 120, 1), song("Ebb", 60, 21, 40)]


def test_each_song_turns_seconds_into_quarters_by_its_own_tempo(songs):
    scale = scale_of(songs)
    assert isinstance(scale, SetScale)
    assert scale.quarters(10.0, SECONDS) == 20.0
    assert scale.quarters(40.0, SECONDS) == 80.0
    assert scale.quarters(44.0, SECONDS) == 84.0
    assert (scale.bpm(20.0), scale.bpm(84.0)) == (120.0, 60.0)


def test_before_the_first_song_its_own_count_holds(songs):
    late = [song("Low Tide Relay", 120, 3), songs[1]]
    assert scale_of(late).quarters(1.0, SECONDS) == 2.0


def test_a_follower_of_a_set_is_in_the_second_song_where_the_host_is(songs):
    follower = follower_for_set(load_map(MAP, source="map"), songs)
    for step in range(40):
        at = step / 20
        follower.heard(at, PositionHeard(at=Number(Fraction(44) + Fraction(step, 20), Fraction(1, 10**6))))
    state = follower.transport(39 / 20)
    assert state.quarters == pytest.approx(84 + 39 / 20, abs=0.01)


def test_one_song_is_followed_as_ever(songs):
    assert scale_of(songs[:1]).quarters(10.0, SECONDS) == 20.0
    assert Ruler(songs[1]).value(Place(0), SECONDS) == 40


def test_a_follower_reads_by_the_new_plan_once_that_is_taken_over(songs):
    follower = follower_for_set(load_map(MAP, source="map"), songs[:1])
    follower.rescale(scale_of([song("Low Tide Relay", 240, 1)]))
    follower.heard(0.0, PositionHeard(at=Number(Fraction(5), Fraction(1, 10**6))))
    assert follower.transport(0.0).quarters == 20.0
