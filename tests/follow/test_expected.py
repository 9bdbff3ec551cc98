"""A plan's tempi as a prior: followed at once where the host does as planned, dropped where not."""

import math
import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.exact import Length, Place, Stretch, Tempo, TempoMap
from bridge.follow.clock import ClockSource
from bridge.follow.expected import Expected
from bridge.follow.messages import Clock, SongPosition, Start, Stop
from tests.follow.simulate import arriving

LEAD_IN = Length(2)


def a_map(*parts):
    """Stretches of (whole notes, from bpm, to bpm), one after the other from place 0."""
    place, stretches = Place(0), []
    for length, start, end in parts:
        tempo = Tempo.ramp(Fraction(start), Fraction(end))
        stretches.append(Stretch(start=place, length=Length(length), tempo=tempo))
        place += Length(length)
    return TempoMap(tuple(stretches))


STEP = a_map((8, 100, 100), (12, 130, 130))
RAMP = a_map((8, 100, 100), (10, 100, 150), (8, 150, 150))
TEMPI = st.integers(40, 240)
MAPS = st.lists(st.tuples(st.integers(1, 20), TEMPI, TEMPI), min_size=1, max_size=4).map(lambda p: a_map(*p))


@given(MAPS, st.integers(0, 8000))
def test_its_seconds_are_those_of_the_tempo_map(tempo_map, tick):
    expected = Expected.of(tempo_map, LEAD_IN)
    place = Place(Fraction(tick, 96)) - LEAD_IN
    exact = tempo_map.seconds(place) - tempo_map.seconds(Place(0) - LEAD_IN)
    assert expected.seconds(tick) == pytest.approx(float(exact), abs=1e-6)


@given(MAPS, st.floats(0, 8000))
def test_ticks_and_seconds_are_inverse(tempo_map, tick):
    expected = Expected.of(tempo_map, LEAD_IN)
    assert expected.tick(expected.seconds(tick)) == pytest.approx(tick, abs=1e-5)


def as_planned(tempo_map, count):
    expected = Expected.of(tempo_map, LEAD_IN)
    return [expected.seconds(tick) for tick in range(count)]


def rms(errors):
    return math.sqrt(sum(error * error for error in errors) / len(errors))


def followed(tempo_map, times, *, expected, first=0, seed=1, sigma=0.001, lost=0.0, silent=None):
    """Follow ``times``; return the errors from tick ``first`` on, in milliseconds, and the source."""
    concert = arriving(random.Random(seed), times, sigma=sigma, lost=lost, silent=silent)
    source = ClockSource(expected=Expected.of(tempo_map, LEAD_IN) if expected else None)
    source.feed(-1.0, Start())
    errors = []
    for at in concert.arrivals:
        source.feed(at, Clock())
        true = concert.ticks_at(at)
        if true >= first:
            errors.append(abs(source.transport(at).quarters * 24 - true) * concert.period_at(at) * 1000)
    return errors, source


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("tempo_map", [STEP, RAMP])
def test_a_planned_tempo_is_followed_as_if_there_were_none(tempo_map, seed):
    with_plan, _ = followed(tempo_map, as_planned(tempo_map, 1600), expected=True, first=900, seed=seed)
    without, _ = followed(tempo_map, as_planned(tempo_map, 1600), expected=False, first=900, seed=seed)
    assert rms(with_plan) < 0.4
    assert rms(with_plan) < 0.8 * rms(without)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("tempo_map", [STEP, RAMP])
def test_a_host_that_keeps_its_tempo_where_the_plan_turns_is_followed_too(tempo_map, seed):
    times = [tick * 0.025 for tick in range(1800)]
    errors, source = followed(tempo_map, times, expected=True, first=900, seed=seed)
    assert max(errors) < 12
    assert source.transport(times[-1]).bpm == pytest.approx(100, rel=0.005)


@pytest.mark.parametrize("seed", range(2))
def test_a_host_that_turns_elsewhere_is_followed_too(seed):
    period, turned = 0.025, 2.5 / 118
    times = [tick * period for tick in range(1200)]
    times += [times[-1] + n * turned for n in range(1, 600)]
    errors, source = followed(STEP, times, expected=True, first=1400, seed=seed)
    assert max(errors) < 3
    assert source.transport(times[-1]).bpm == pytest.approx(118, rel=0.005)


def test_time_bridges_a_dropout_across_a_planned_turn():
    times = as_planned(STEP, 1400)
    turn = times[(2 + 8) * 96]
    errors, source = followed(STEP, times, expected=True, first=900, silent=(turn - 0.6, turn + 0.7))
    assert max(errors) < 4
    assert source.transport(times[-1]).locked


def test_ticks_while_stopped_have_no_place_in_the_plan():
    source = ClockSource(expected=Expected.of(STEP, LEAD_IN))
    source.feed(0.0, Start())
    for tick in range(900):
        source.feed(tick * 0.025, Clock())
    source.feed(22.49, Stop())
    for tick in range(900, 1100):
        source.feed(tick * 0.025, Clock())
    assert source.transport(27.5).bpm == pytest.approx(100, rel=1e-3)
    source.feed(27.49, SongPosition(sixteenths=0))
    assert source.transport(27.49).quarters == 0.0
