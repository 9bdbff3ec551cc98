"""The follower of a host whose plan is known: sooner there where it plays the plan, no worse where not."""

import math
import random
from fractions import Fraction

import pytest

from bridge.exact import Place
from bridge.follow import Source
from bridge.hostmap import PositionHeard
from bridge.hostmap import load as load_map
from bridge.hostmap.message import Number
from bridge.live.following import follower_for
from bridge.plan import load
from bridge.shape import solve
from bridge.song import HostCount, unroll
from tests.follow.simulate import Concert, arriving

PLAN = """
pulsebridge: 1
title: Slack Water
tempo: 100
meter: 4/4
origin: {bar: 3}
layers: {band: {cycle: 1 bar}}
sections:
  - {name: Prelude, layers: [band], bars: 6}
  - {name: Crossing, layers: [band], bars: 8, tempo: 130}
  - {name: Ebb, layers: [band], bars: 8, tempo: {from: 130, to: 84}}
  - {name: Landfall, layers: [band], bars: 4, tempo: 84}
"""
STEP, RAMP, RAMP_END = 8 * 96, 16 * 96, 24 * 96
"""In ticks of the host: two bars come before the plan."""
TICK = Place("1/96") - Place(0)


@pytest.fixture(scope="module")
def song():
    plan = load(PLAN)
    return unroll(plan, solve(plan).bars)


def as_planned(song, ticks=27 * 96):
    count = HostCount(song)
    return [float(count.seconds(count.place_of_whole_notes((TICK * n).whole_notes))) for n in range(ticks)]


def followed(follower, concert: Concert):
    """Return, by the host's tick, how far off the place is at each arrival, in milliseconds."""
    follower.midi(-1.0, b"\xfa")
    off = []
    for at in concert.arrivals:
        follower.midi(at, b"\xf8")
        true = concert.ticks_at(at)
        miss = (follower.transport(at).quarters * 24 - true) * concert.period_at(at)
        off.append((true, abs(miss) * 1000))
    return off


def rms_between(off, first, last):
    return math.sqrt(sum(miss**2 for true, miss in off if first <= true < last) / (last - first))


@pytest.mark.parametrize("seed", range(2))
def test_a_planned_step_and_a_planned_ramp_are_followed_better_with_the_plan(song, seed):
    concert = arriving(random.Random(seed), as_planned(song), sigma=0.001)
    known, unknown = (followed(follower_for(None, one), concert) for one in (song, None))
    for first, last in ((STEP, STEP + 100), (RAMP, RAMP_END)):
        assert rms_between(known, first, last) < 0.4
        assert rms_between(known, first, last) < 0.75 * rms_between(unknown, first, last)


@pytest.mark.parametrize("seed", range(2))
def test_a_host_that_does_otherwise_is_followed_as_without_a_plan(song, seed):
    """It keeps 100 bpm where the plan steps and bends, and takes 118 where the plan has nothing."""
    times = [n * 0.025 for n in range(20 * 96)]
    times += [times[-1] + n * 2.5 / 118 for n in range(1, 500)]
    concert = arriving(random.Random(seed), times, sigma=0.001)
    known = followed(follower_for(None, song), concert)
    unknown = followed(follower_for(None), concert)
    end = len(times)
    assert rms_between(known, 96, end) < 1.5 * rms_between(unknown, 96, end)
    assert max(miss for true, miss in known if true > end - 200) < 3


def test_a_host_that_counts_in_seconds_is_where_the_plan_says(song):
    host = load_map(
        "pulsebridge_host: 1\nname: slip dock\nhears:\n"
        "  position: {address: /slip/at, arg: 0, unit: seconds}\n"
    )
    follower = follower_for(host, song)
    place = song.sections[2].start + (Place(4) - Place(0))
    count = HostCount(song)
    follower.heard(1.0, PositionHeard(at=Number(count.seconds(place), Fraction(0))))
    assert follower.transport(1.0).quarters == pytest.approx(4 * float(count.whole_notes(place)), abs=1e-9)


def test_each_source_has_the_delay_that_it_was_given():
    plain, late = follower_for(None), follower_for(None, delays={Source.CLOCK: 0.010})
    for follower in (plain, late):
        follower.midi(0.0, b"\xfa")
        for n in range(100):
            follower.midi(n / 48, b"\xf8")
    apart = late.transport(3.0).quarters - plain.transport(3.0).quarters
    assert apart == pytest.approx(0.02, abs=1e-6)
