"""Start, Stop, Continue, song position, pauses and dropouts: what the clock messages add up to."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.exact import Place
from bridge.follow.clock import ClockSource
from bridge.follow.messages import Clock, Continue, SongPosition, Start, Stop
from bridge.follow.transport import Happened

TICK = 2.5 / 120


def clocks(source, start, count, *, rng=None, sigma=0.001, period=TICK):
    """Feed ``count`` clocks from ``start``; return what happened and the time of the next."""
    events = []
    for n in range(count):
        jitter = rng.gauss(0, sigma) if rng else 0.0
        events += source.feed(start + n * period + jitter, Clock())
    return events, start + count * period


def playing(rng=None, count=200):
    source = ClockSource()
    source.feed(0.0, Start())
    _, at = clocks(source, 0.01, count, rng=rng)
    return source, at


def test_after_start_playing_begins_at_the_next_clock_at_place_0():
    source = ClockSource()
    clocks(source, 0.0, 100)
    source.feed(2.5, Start())
    waiting = source.transport(2.5)
    assert (waiting.playing, waiting.quarters, waiting.place) == (False, 0.0, Place(0))
    events = source.feed(2.51, Clock())
    first = source.transport(2.51)
    assert [event.what for event in events] == [Happened.STARTED]
    assert first.playing
    assert first.quarters == pytest.approx(0, abs=1 / 96)


def test_the_place_grows_by_a_24th_of_a_quarter_a_clock():
    source, at = playing(count=241)
    state = source.transport(at - TICK)
    assert state.quarters == pytest.approx(10, abs=1e-3)
    assert state.bpm == pytest.approx(120, rel=1e-3)
    assert state.locked
    assert state.error_ms < 1


def test_between_clocks_time_moves_the_place():
    source, at = playing(count=241)
    assert source.transport(at - TICK / 2).quarters == pytest.approx(10 + 1 / 48, abs=1e-3)


def test_clocks_without_start_teach_the_tempo_but_do_not_play():
    source = ClockSource()
    clocks(source, 0.0, 200)
    state = source.transport(4.2)
    assert (state.playing, state.locked, state.quarters) == (False, False, None)
    assert state.bpm == pytest.approx(120, rel=1e-3)


def test_clocks_after_stop_do_not_move_the_place():
    source, at = playing(count=241)
    events = source.feed(at - TICK / 2, Stop())
    stopped = source.transport(at).quarters
    clocks(source, at, 300)
    state = source.transport(at + 300 * TICK)
    assert [event.what for event in events] == [Happened.STOPPED]
    assert (state.playing, state.quarters) == (False, stopped)
    assert stopped == pytest.approx(10 + 1 / 48, abs=1e-2)


def test_continue_goes_on_with_the_clock_after_the_last_one_played():
    source, at = playing(count=241)
    source.feed(at - TICK / 2, Stop())
    _, at = clocks(source, at, 77)
    source.feed(at - TICK / 2, Continue())
    source.feed(at, Clock())
    state = source.transport(at)
    assert state.playing
    assert state.locked
    assert state.quarters == pytest.approx(241 / 24, abs=2e-3)


def test_song_position_then_continue_starts_there():
    source, at = playing()
    source.feed(at, Stop())
    source.feed(at, SongPosition(sixteenths=8))
    assert source.transport(at).place == Place(Fraction(8, 16))
    assert source.transport(at).quarters == 2.0
    source.feed(at + 0.001, Continue())
    clocks(source, at + 0.5, 49)
    assert source.transport(at + 0.5 + 48 * TICK).quarters == pytest.approx(4, abs=2e-3)


def test_start_while_playing_goes_back_to_the_beginning():
    source, at = playing()
    events = source.feed(at - 0.001, Start())
    source.feed(at, Clock())
    assert [event.what for event in events] == [Happened.MOVED]
    assert source.transport(at).quarters == pytest.approx(0, abs=2e-3)


def test_a_song_position_while_playing_that_agrees_changes_nothing():
    source, at = playing(count=241)
    assert source.feed(at - TICK / 2, SongPosition(sixteenths=40)) == []
    source.feed(at, Clock())
    assert source.transport(at).quarters == pytest.approx(241 / 24, abs=2e-3)


def test_a_song_position_while_playing_that_does_not_agree_moves_the_host_with_the_next_clock():
    source, at = playing(count=241)
    events = source.feed(at - TICK / 2, SongPosition(sixteenths=16))
    source.feed(at, Clock())
    state = source.transport(at)
    assert [event.what for event in events] == [Happened.MOVED]
    assert state.playing
    assert state.quarters == pytest.approx(4, abs=2e-3)


@pytest.mark.parametrize("seconds", [0.25, 1.0, 1.9])
@pytest.mark.parametrize("seed", range(5))
def test_a_dropout_is_bridged_by_time(seconds, seed):
    rng = random.Random(seed)
    source, at = playing(rng=rng)
    missed = round(seconds / TICK)
    middle = source.transport(at + seconds / 2)
    assert middle.playing
    assert middle.quarters == pytest.approx(200 / 24 + seconds, abs=0.02)
    back = at + missed * TICK
    source.feed(back + rng.gauss(0, 0.001), Clock())
    state = source.transport(back)
    assert state.quarters == pytest.approx((200 + missed) / 24, abs=0.01)
    assert state.locked


@pytest.mark.parametrize("ticks_missed", [14.4, 48.5, 72.35, 90.65, 120.0, 120.4, 2880.5])
@pytest.mark.parametrize("seed", range(5))
def test_any_other_silence_is_a_pause_and_the_place_goes_on_from_the_last_tick(ticks_missed, seed):
    rng = random.Random(seed)
    source, at = playing(rng=rng)
    resumed = at + ticks_missed * TICK
    clocks(source, resumed, 1)
    state = source.transport(resumed)
    assert state.playing
    assert not state.locked
    assert state.quarters == pytest.approx(200 / 24, abs=0.01)
    _, at = clocks(source, resumed + TICK, 100, rng=rng)
    state = source.transport(at)
    assert not state.locked
    assert state.quarters == pytest.approx(301 / 24, abs=0.02)


@pytest.mark.parametrize("seed", range(8))
def test_a_pause_clearly_off_the_grid_stays_one_at_fast_tempi_too(seed):
    rng, tick = random.Random(seed), 2.5 / 200
    source = ClockSource()
    source.feed(0.0, Start())
    _, at = clocks(source, 0.01, 960, rng=rng, sigma=0.0005, period=tick)
    resumed = at + 150.5 * tick
    _, at = clocks(source, resumed, 100, rng=rng, sigma=0.0005, period=tick)
    state = source.transport(at)
    assert not state.locked
    assert state.quarters == pytest.approx(1060 / 24, abs=0.02)


def test_after_a_pause_a_song_position_locks_again():
    source, at = playing()
    _, at = clocks(source, at + 3.0, 50)
    assert not source.transport(at).locked
    source.feed(at - TICK / 2, SongPosition(sixteenths=64))
    clocks(source, at, 25)
    state = source.transport(at + 24 * TICK)
    assert state.locked
    assert state.quarters == pytest.approx(17, abs=0.01)


def test_after_a_pause_stop_and_continue_do_not_lock_but_start_does():
    source, at = playing()
    _, at = clocks(source, at + 3.0, 50)
    source.feed(at - TICK / 2, Stop())
    source.feed(at - TICK / 3, Continue())
    assert source.transport(at - TICK / 3).quarters == pytest.approx(250 / 24)
    _, at = clocks(source, at, 50)
    state = source.transport(at - TICK)
    assert (state.playing, state.locked) == (True, False)
    assert state.quarters == pytest.approx(299 / 24, abs=0.01)
    source.feed(at - TICK / 2, Start())
    _, at = clocks(source, at, 50)
    assert source.transport(at).locked


def test_a_silent_clock_plays_on_until_stop_and_the_loss_is_told_once():
    source, at = playing()
    assert source.pass_time(at + 1.9) == []
    assert [event.what for event in source.pass_time(at + 2.1)] == [Happened.LOST]
    assert source.pass_time(at + 3.0) == []
    state = source.transport(at + 1000)
    assert state.playing
    assert state.quarters is not None
    assert not state.locked
    events = source.feed(at + 1001, Clock())
    assert Happened.BACK in [event.what for event in events]
    source.feed(at + 1002, Stop())
    assert not source.transport(at + 1002).playing


def test_a_delay_that_was_set_puts_the_place_ahead_by_it():
    plain, at = playing(count=241)
    late = ClockSource(delay=0.010)
    late.feed(0.0, Start())
    clocks(late, 0.01, 241)
    assert late.transport(at).quarters - plain.transport(at).quarters == pytest.approx(0.02, abs=1e-4)


def test_a_delay_moves_neither_where_it_stopped_nor_a_song_position_that_only_confirms():
    late = ClockSource(delay=0.2)
    late.feed(0.0, Start())
    _, at = clocks(late, 0.01, 241)
    assert late.feed(at - 0.001, SongPosition(sixteenths=40)) == []
    late.feed(at - 0.001, Stop())
    assert late.transport(at + 0.3).quarters == pytest.approx(10.04, abs=0.005)


def test_a_new_tempo_is_told_once():
    source, at = playing(rng=random.Random(3))
    events, _ = clocks(source, at, 200, rng=random.Random(4), period=2.5 / 132)
    told = [event for event in events if event.what is Happened.TEMPO_CHANGED]
    assert 1 <= len(told) <= 2
    assert source.transport(at + 200 * 2.5 / 132).bpm == pytest.approx(132, rel=0.01)


@pytest.mark.parametrize("ratio", [0.5, 2 / 3, 0.8, 1.25, 1.5, 2.0])
def test_a_great_change_of_tempo_keeps_the_count(ratio):
    rng = random.Random(7)
    source, at = playing(rng=rng)
    period = TICK / ratio
    _, at = clocks(source, at - TICK + period, 200, rng=rng, period=period)
    state = source.transport(at - period)
    assert state.quarters == pytest.approx(399 / 24, abs=0.01)
    assert state.bpm == pytest.approx(120 * ratio, rel=0.01)


MESSAGES = st.one_of(
    st.sampled_from([Clock(), Clock(), Clock(), Start(), Continue(), Stop()]),
    st.builds(SongPosition, sixteenths=st.integers(0, 16383)),
)


@given(st.lists(st.tuples(st.floats(0, 5), MESSAGES), max_size=60))
def test_whatever_comes_there_is_a_place_whenever_playing(steps):
    source, at = ClockSource(), 0.0
    for wait, message in steps:
        at += wait
        source.feed(at, message)
        source.pass_time(at)
        state = source.transport(at)
        assert not state.playing or state.quarters is not None
        assert state.bpm is None or 0.9 < state.bpm < 1100


@given(st.lists(st.tuples(st.sampled_from([0.0, 1e-9, 0.001, 0.02, 0.0208, 1.0]), MESSAGES), max_size=200))
def test_hostile_timing_never_breaks_it(steps):
    source, at = ClockSource(), 1e9
    for wait, message in steps:
        at += wait
        source.feed(at, message)
        state = source.transport(at)
        assert state.quarters is None or abs(state.quarters) < 1e9
