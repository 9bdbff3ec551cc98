"""Seconds, ticks and samples: exact where they can be, bounded where they cannot."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.exact import (
    NANOSECOND,
    Length,
    Place,
    Ratio,
    Stretch,
    Tempo,
    TempoMap,
    exact_ticks,
    samples,
    seconds_of,
    ticks,
)

bpms = st.fractions(min_value=1, max_value=1000, max_denominator=100)
sections = st.lists(
    st.tuples(st.fractions(min_value=Fraction(1, 4), max_value=100, max_denominator=16), bpms, bpms),
    min_size=1,
    max_size=4,
)
SHARES = [Ratio(Fraction(k, 40)) for k in range(41)]


def joined(parts) -> TempoMap:
    stretches, at = [], Place(0)
    for length, start, end in parts:
        stretches.append(Stretch(start=at, length=Length(length), tempo=Tempo(start, end)))
        at += Length(length)
    return TempoMap(tuple(stretches))


def by_simpson(quarters: float, start: float, end: float, steps: int = 2000) -> float:
    """Integrate 60/bpm over the musical position, numerically."""
    width = quarters / steps
    values = [60 / (start + (end - start) * k / steps) for k in range(steps + 1)]
    return width / 3 * (values[0] + values[-1] + 4 * sum(values[1:-1:2]) + 2 * sum(values[2:-1:2]))


@given(st.integers(1, 400), st.integers(20, 400), st.integers(20, 400))
def test_a_ramp_in_closed_form_is_the_integral(quarters, start, end):
    ours = seconds_of(Length(Fraction(quarters, 4)), Tempo(start, end))
    assert float(ours) == pytest.approx(by_simpson(quarters, start, end), rel=1e-6)


@given(bpms, st.fractions(min_value=Fraction(1, 64), max_value=1000, max_denominator=64))
def test_a_constant_tempo_is_exact(bpm, whole_notes):
    assert seconds_of(Length(whole_notes), Tempo.constant(bpm)) == whole_notes * 240 / bpm


@given(sections, st.fractions(min_value=-10, max_value=420, max_denominator=48))
def test_a_tempo_map_inverts(parts, whole_notes):
    tempo_map, place = joined(parts), Place(whole_notes)
    found = tempo_map.place(tempo_map.seconds(place))
    # Half a nanosecond at 1000 quarters a minute, and a unit of 2^-48.
    assert abs(found - place) <= Length(NANOSECOND / 2 * 1000 / 240 + Fraction(1, 2**48))


@given(sections)
def test_seconds_never_fall_and_add_up_over_the_sections(parts):
    tempo_map = joined(parts)
    end = tempo_map.stretches[-1].start + tempo_map.stretches[-1].length
    places = [Place(0) + (end - Place(0)) * share for share in SHARES]
    seconds = [tempo_map.seconds(place) for place in places]
    assert seconds == sorted(seconds)
    assert tempo_map.seconds(end) == tempo_map.total_seconds
    assert tempo_map.total_seconds == sum(
        seconds_of(stretch.length, stretch.tempo) for stretch in tempo_map.stretches
    )


@given(sections)
def test_a_section_under_a_ramp_is_a_whole_number_of_nanoseconds(parts):
    for length, start, end in parts:
        if start != end:
            assert (seconds_of(Length(length), Tempo(start, end)) / NANOSECOND).denominator == 1


def test_the_tempo_at_a_border_is_the_one_that_begins():
    tempo_map = joined([(8, 96, 132), (4, 90, 90)])
    assert tempo_map.bpm(Place(4)) == 114
    assert tempo_map.bpm(Place(8)) == 90
    assert tempo_map.bpm(Place(-1)) == 96
    assert tempo_map.bpm(Place(100)) == 90


def test_outside_the_song_its_edge_tempi_hold():
    tempo_map = joined([(4, 60, 120)])
    assert tempo_map.seconds(Place(-1)) == -4
    assert tempo_map.seconds(Place(5)) - tempo_map.total_seconds == 2
    assert float(tempo_map.total_seconds) == pytest.approx(16 * math.log(2), abs=1e-9)


def test_an_illegal_tempo_map_does_not_exist():
    tempo = Tempo.constant(Fraction(120))
    with pytest.raises(ValueError, match="at least one"):
        TempoMap(())
    with pytest.raises(ValueError, match="longer than 0"):
        Stretch(start=Place(0), length=Length(0), tempo=tempo)
    apart = [Stretch(start=Place(at), length=Length(1), tempo=tempo) for at in (0, 2)]
    with pytest.raises(ValueError, match="next starts at 2"):
        TempoMap(tuple(apart))


@given(
    st.fractions(min_value=0, max_value=10000, max_denominator=10**6), st.sampled_from([44100, 48000, 96000])
)
def test_samples_are_at_most_half_a_sample_off(seconds, rate):
    assert abs(samples(seconds, rate) - seconds * rate) <= Fraction(1, 2)


@given(
    st.fractions(min_value=0, max_value=1000, max_denominator=1000).map(Length),
    st.sampled_from([24, 96, 480, 960]),
)
def test_ticks_are_at_most_half_a_tick_off(length, division):
    assert abs(ticks(length, division) - exact_ticks(length, division)) <= Fraction(1, 2)
    assert exact_ticks(length, division) == length.whole_notes * 4 * division
