"""The clock follower against the statistical bound: small, seeded forms of the benchmark's rows.

Margins are wide, so that what fails is broken; ``tests/bench/bench_clock.py`` has the figures.
"""

import math
import random
import statistics

import pytest

from bridge.follow.clock import ClockSource
from bridge.follow.messages import Clock, Start
from tests.bench.clock_bounds import (
    INFORMATION,
    LastTick,
    Oracle,
    line_bound,
    posterior_bound,
)
from tests.follow.simulate import NOISES, arriving, ramping, stepping, walking

TROUBLE = {"late": 0.01, "lost": 0.002, "doubled": 0.002}


def errors(concert, follower=None):
    """Return the error of the place at each arrival, in seconds."""
    source = ClockSource()
    source.feed(-1.0, Start())
    off = []
    for at in concert.arrivals:
        if follower is None:
            source.feed(at, Clock())
            place = source.transport(at).quarters * 24
        else:
            follower.tick(at)
            place = follower.ticks_at(at)
        off.append((place - concert.ticks_at(at)) * concert.period_at(at))
    return off


def rms(values):
    return math.sqrt(statistics.fmean(value * value for value in values))


# Kay, Fundamentals of Statistical Signal Processing (1993): a line through N ticks (computed).
@pytest.mark.parametrize(("ticks", "share"), [(24, 0.3958), (96, 0.2025)])
def test_the_bound_of_a_line_is_the_published_one(ticks, share):
    assert line_bound(ticks, 1.0) == pytest.approx(share, abs=5e-5)


def test_a_tempo_that_does_not_walk_has_the_bound_of_a_line():
    assert posterior_bound(0.02, 0.001, walk=1e-9) < line_bound(1000, 0.001)


@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize("sigma", [0.001, 0.002])
def test_the_place_is_close_to_the_bound_and_the_count_is_kept(noise, sigma):
    ratios = []
    for seed in range(4):
        rng = random.Random(8000 + seed)
        bpm = (70, 110, 150, 190)[seed]
        times = walking(rng, bpm=bpm, seconds=25)
        concert = arriving(rng, times, sigma=sigma, noise=NOISES[noise], **TROUBLE)
        off = errors(concert)
        assert abs(off[-1]) < 1.25 / bpm, f"seed {8000 + seed}: the count slipped"
        bound = posterior_bound(2.5 / bpm, sigma, information=INFORMATION[noise])
        ratios.append(rms(off[200:]) / bound)
    assert 0.7 < rms(ratios) < 1.4


def test_a_jitter_of_5_ms_keeps_the_count_at_ordinary_tempi():
    for seed in range(4):
        rng = random.Random(8100 + seed)
        concert = arriving(rng, walking(rng, bpm=110, seconds=25), sigma=0.005, **TROUBLE)
        off = errors(concert)
        assert rms(off[200:]) < 1.6 * posterior_bound(2.5 / 110, 0.005)


def test_the_usual_follower_is_far_from_the_bound():
    rng = random.Random(8200)
    concert = arriving(rng, walking(rng, bpm=120, seconds=25), sigma=0.001)
    assert rms(errors(concert, LastTick())[200:]) > 3 * posterior_bound(2.5 / 120, 0.001)
    assert rms(errors(concert)[200:]) < 1.4 * posterior_bound(2.5 / 120, 0.001)


@pytest.mark.parametrize("ratio", [1.05, 1 / 1.05])
def test_after_a_step_of_5_percent_it_locks_again_about_as_fast_as_an_oracle(ratio):
    ours, oracles = [], []
    for seed in range(6):
        rng = random.Random(8300 + seed)
        times = stepping(bpm=90 + 15 * seed, seconds=10, step_at=6.0, ratio=ratio)
        step = next(time for time in times if time >= 6.0)
        concert = arriving(rng, times, sigma=0.002)
        since = [at > step + 0.005 for at in concert.arrivals].index(True)
        for found, follower in ((ours, None), (oracles, Oracle(0.002, step))):
            off = errors(concert, follower)[since:]
            held = (n for n in range(len(off) - 24) if max(map(abs, off[n : n + 24])) < 0.005)
            found.append(next(held, 1000))
    assert statistics.median(ours) <= 1.7 * max(statistics.median(oracles), 8)
    assert max(ours) <= 30


@pytest.mark.parametrize("rate", [2.0, -2.0])
def test_a_ramp_is_followed_closely(rate):
    off = []
    for seed in range(3):
        rng = random.Random(8400 + seed)
        times = ramping(bpm=110, seconds=16, ramp_from=6, ramp_to=14, rate=rate)
        concert = arriving(rng, times, sigma=0.001)
        found = errors(concert)
        off += [x for x, at in zip(found, concert.arrivals, strict=True) if 6 < at < 14]
    assert rms(off) < 0.0008


def test_ticks_held_up_and_let_go_in_a_burst_do_not_move_the_place():
    times = [n * 2.5 / 120 for n in range(600)]
    rng = random.Random(8500)
    concert = arriving(rng, times, sigma=0.0005)
    concert.arrivals = [8.2 if 8.0 < at < 8.2 else at for at in concert.arrivals]
    off = errors(concert)
    assert max(abs(x) for x, at in zip(off, concert.arrivals, strict=True) if at > 8.3) < 0.003


HARD = [("heavy", 30013), ("heavy", 30038), ("gaussian", 30022), ("gaussian", 30036), ("gaussian", 30042)]
"""Performances in which ticks overtake each other; counted one by one as is likeliest, the place is lost."""


@pytest.mark.parametrize(("noise", "seed"), HARD)
def test_a_tick_that_may_be_counted_two_ways_is_counted_by_what_comes_after_it(noise, seed):
    rng = random.Random(seed)
    bpm = rng.uniform(60, 200)
    times = walking(rng, bpm=bpm, seconds=50)
    concert = arriving(rng, times, sigma=0.005, noise=NOISES[noise], late=0.01, lost=0.001, doubled=0.001)
    off = errors(concert)
    assert abs(off[-1]) < 1.25 / bpm
    assert rms(off[300:]) < 1.6 * posterior_bound(2.5 / bpm, 0.005, information=INFORMATION[noise])
