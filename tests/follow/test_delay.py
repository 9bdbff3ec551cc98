"""A source's delay by taps and by round trips: near the truth, with an error that says how near."""

import random
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.follow import Source, Transport
from bridge.follow.delay import FEWEST, Found, Share, Taps, Unsure, of_round_trips, of_taps

BEAT = 0.5


def taps(delay, *, count=24, uneven=0.012, beat=BEAT, seed=1):
    """Where taps on the beats of what is heard fall, by messages that come ``delay`` after it."""
    rng = random.Random(seed)
    return [(n - (delay + rng.gauss(0.0, uneven)) / beat, beat) for n in range(4, 4 + count)]


@given(delay=st.floats(-0.2, 0.2), beat=st.floats(0.45, 1.0), first=st.integers(-5, 10_000))
def test_even_taps_give_the_delay_itself(delay, beat, first):
    found = of_taps([(first + n - delay / beat, beat) for n in range(FEWEST)])
    assert isinstance(found, Found)
    assert found.delay == pytest.approx(delay, abs=1e-6)
    assert found.spread == pytest.approx(0, abs=1e-6)


@given(delay=st.floats(-2, 2), beats=st.integers(-3, 3))
def test_a_tap_cannot_tell_whole_beats(delay, beats):
    one = of_taps([(n - delay / BEAT, BEAT) for n in range(9)])
    other = of_taps([(n - delay / BEAT - beats, BEAT) for n in range(9)])
    assert -BEAT / 2 <= one.delay <= BEAT / 2
    apart = (one.delay - other.delay) / BEAT
    assert apart == pytest.approx(round(apart), abs=1e-6)


@pytest.mark.parametrize("delay", [-0.12, 0.0, 0.03, 0.24, 0.25])
def test_the_error_is_as_large_as_it_says(delay):
    off, said = [], []
    for seed in range(200):
        found = of_taps(taps(delay, seed=seed))
        miss = found.delay - delay
        off.append((miss - BEAT * round(miss / BEAT)) ** 2)
        said.append(found.error**2)
    assert fmean(off) == pytest.approx(fmean(said), rel=0.3)


def test_a_few_slips_of_the_finger_count_for_next_to_nothing():
    even = taps(0.03)
    slipped = [(place + 0.4, beat) if n % 8 == 5 else (place, beat) for n, (place, beat) in enumerate(even)]
    assert of_taps(slipped).delay == pytest.approx(of_taps(even).delay, abs=0.005)


def test_the_beats_may_change_their_length():
    places = [(n - 0.03 / beat, beat) for n, beat in enumerate([0.6 - 0.005 * n for n in range(24)])]
    assert of_taps(places).delay == pytest.approx(0.03, abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_taps_at_random_are_refused(seed):
    rng = random.Random(seed)
    found = of_taps([(rng.uniform(0, 100), BEAT) for _ in range(32)])
    assert isinstance(found, Unsure)
    assert "spread by" in found.why
    assert found.count == 32


def test_taps_on_and_off_the_beat_in_turn_are_refused():
    assert isinstance(of_taps([(n / 2, BEAT) for n in range(24)]), Unsure)


def test_taps_too_few_are_refused():
    found = of_taps(taps(0.0, count=FEWEST - 1))
    assert (found.why, found.count) == ("7 taps are too few: at least 8 are needed", 7)
    assert of_taps([]).count == 0


def state(source, quarters, *, playing=True, locked=True):
    return Transport(at=0.0, playing=playing, quarters=quarters, bpm=120.0, source=source, locked=locked)


def test_each_source_has_a_delay_of_its_own():
    played = Taps()
    for n in range(10):
        places = [state(Source.CLOCK, n - 0.02), state(Source.OSC, n + 0.05)]
        assert played.take(n * BEAT, places)
    found = played.delays()
    assert found[Source.CLOCK].delay == pytest.approx(0.010)
    assert found[Source.OSC].delay == pytest.approx(-0.025)
    assert found[Source.OSC].beat == BEAT


def test_taps_that_nothing_plays_to_are_counted_and_not_used():
    played = Taps()
    assert not played.take(0.0, [state(Source.CLOCK, 1.0, locked=False)])
    assert not played.take(1.0, [state(Source.CLOCK, 1.0, playing=False)])
    assert not played.take(2.0, [])
    assert (played.count, played.unused, played.delays()) == (3, 3, {})


def test_a_key_that_repeats_itself_is_one_tap():
    played = Taps()
    assert played.take(1.0, [state(Source.CLOCK, 4.0)])
    assert not played.take(1.03, [state(Source.CLOCK, 4.06)])
    assert played.take(1.5, [state(Source.CLOCK, 5.0)])
    assert (played.count, played.unused) == (3, 1)


@pytest.mark.parametrize(("share", "delay"), [(Share.HALF, 0.006), (Share.WHOLE, 0.012)])
def test_a_round_trip_is_halved_or_taken_whole(share, delay):
    rng = random.Random(2)
    trips = [0.012 + rng.gauss(0, 0.001) for _ in range(50)]
    found = of_round_trips(trips, sent=50, share=share)
    assert abs(found.delay - delay) < 4 * found.error
    assert found.spread == pytest.approx(0.001, rel=0.5)


@pytest.mark.parametrize(
    ("trips", "sent", "why"),
    [
        ([], 50, "nothing came back"),
        ([0.01] * 7, 8, "7 round trips are too few"),
        ([0.01] * 20, 50, "only 20 of 50 came back"),
        ([0.01 * n for n in range(20)], 20, "no fixed delay"),
    ],
)
def test_round_trips_that_tell_nothing_are_refused(trips, sent, why):
    found = of_round_trips(trips, sent=sent)
    assert isinstance(found, Unsure)
    assert why in found.why
