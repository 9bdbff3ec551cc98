"""A tempo that has not moved bridges silences better than the grid's own period."""

import random

import pytest

from bridge.follow.clock import ClockSource
from bridge.follow.clock_filter import ClockFilter
from bridge.follow.messages import Clock, Start
from bridge.follow.steady import Steady
from tests.follow.simulate import arriving, stepping, walking


def grids(times, *, sigma=0.001, seed=1):
    follower, steady = ClockFilter(), Steady()
    for at in arriving(random.Random(seed), times, sigma=sigma).arrivals:
        follower.tick(at)
        steady.note(follower.grid)
    return follower.grid, steady


@pytest.mark.parametrize("seed", range(5))
def test_the_period_of_a_steady_host_is_known_far_better(seed):
    times = [n * 2.5 / 128 for n in range(600)]
    grid, steady = grids(times, seed=seed)
    assert abs(steady.period(grid) - 2.5 / 128) < 4e-6
    assert grid.period_error > 1e-5


def test_a_tempo_that_walks_or_has_changed_is_left_to_the_grid():
    for times in (
        walking(random.Random(5), bpm=120, seconds=12, walk=0.001),
        stepping(bpm=120, seconds=12, step_at=10, ratio=1.05),
    ):
        grid, steady = grids(times)
        assert steady.period(grid) == grid.period
        assert steady.is_moving(grid)


def test_too_few_beats_say_nothing():
    grid, steady = grids([n * 0.02 for n in range(100)])
    assert steady.period(grid) == grid.period
    assert not steady.is_moving(grid)


@pytest.mark.parametrize("bpm", [150, 190])
@pytest.mark.parametrize("gap", [1.0, 1.9])
@pytest.mark.parametrize("seed", range(4))
def test_a_long_dropout_of_a_fast_and_steady_clock_is_bridged(bpm, gap, seed):
    times = [n * 2.5 / bpm for n in range(bpm * 24 // 60 * 15)]
    rng = random.Random(seed)
    concert = arriving(rng, times, sigma=0.0008, silent=(10.0, 10.0 + gap))
    source = ClockSource()
    source.feed(-1.0, Start())
    for at in concert.arrivals:
        source.feed(at, Clock())
        assert source.transport(at).quarters * 24 == pytest.approx(concert.ticks_at(at), abs=0.5)
    assert source.transport(at).locked
