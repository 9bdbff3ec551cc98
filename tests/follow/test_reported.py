"""Positions, tempo and playing as a host reports them: in any unit, at any rate, with jitter."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.exact import Place
from bridge.follow import Happened, PlainScale, ReportedSource
from bridge.hostmap import Unit

BPM = 132.0

# The host's number at a place of q quarters, at BPM and in 4/4.
UNITS = {
    "quarters": lambda q: q,
    "whole_notes": lambda q: q / 4,
    "seconds": lambda q: q * 60 / BPM,
    "samples@44100": lambda q: q * 60 / BPM * 44100,
    "ticks@480": lambda q: q * 480,
    "bars": lambda q: 1 + q / 4,
}


def source_in(unit):
    return ReportedSource(PlainScale(), Unit.parse(unit))


def run(source, number, *, rate, seconds, rng, jitter=0.002, start=0.0, tempo=True):
    """Let a host play from ``start`` quarters, reporting ``rate`` times a second."""
    if tempo:
        source.tempo(0.0, BPM)
    source.position(0.0, Fraction(number(start)))
    source.playing(0.0, True)
    events, at = [], 0.0
    while at < seconds:
        at += rng.uniform(0.5, 1.5) / rate
        events += source.position(at + abs(rng.gauss(0, jitter)), Fraction(number(start + at * BPM / 60)))
    return events, at


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("rate", [2, 10, 60])
def test_the_place_is_followed_in_every_unit_at_every_rate(unit, rate):
    source = source_in(unit)
    events, at = run(source, UNITS[unit], rate=rate, seconds=10, rng=random.Random(rate))
    state = source.transport(at + 0.3)
    assert state.playing
    assert state.locked
    assert state.quarters == pytest.approx((at + 0.3) * BPM / 60, abs=0.01)
    assert state.bpm == BPM
    assert events == []


def test_jitter_is_averaged_out():
    rng, source, off = random.Random(1), source_in("quarters"), []
    source.tempo(0.0, BPM)
    source.playing(0.0, True)
    for n in range(600):
        at = n / 30
        source.position(at + rng.gauss(0, 0.004), Fraction(at * BPM / 60))
        off.append(source.transport(at).quarters * 60 / BPM - at)
    assert sum(x * x for x in off[100:]) / 500 < (0.004 / 2) ** 2


def test_a_tempo_that_is_never_told_is_measured():
    source = source_in("quarters")
    _, at = run(source, UNITS["quarters"], rate=20, seconds=10, rng=random.Random(2), tempo=False)
    assert source.transport(at).bpm == pytest.approx(BPM, rel=0.01)
    assert source.transport(at).quarters == pytest.approx(at * BPM / 60, abs=0.02)


def test_a_host_that_stands_still_has_an_exact_place():
    for unit, value, place in [
        ("quarters", Fraction(25, 2), Place(Fraction(25, 8))),
        ("whole_notes", Fraction(3, 16), Place(Fraction(3, 16))),
        ("ticks@960", Fraction(1440), Place(Fraction(3, 8))),
        ("seconds", Fraction(3), None),
    ]:
        source = source_in(unit)
        source.position(0.0, value)
        assert source.transport(9.0).place == place
        assert source.transport(9.0).quarters is not None
        assert not source.transport(9.0).playing


@pytest.mark.parametrize("target", [0.0, 40.0, 22.5])
def test_a_jump_is_believed_at_once_and_told(target):
    source = source_in("quarters")
    _, at = run(source, UNITS["quarters"], rate=20, seconds=10, rng=random.Random(3))
    events = source.position(at + 0.05, Fraction(target + 4))
    assert [event.what for event in events] == [Happened.MOVED]
    assert source.transport(at + 0.05).quarters == pytest.approx(target + 4, abs=0.01)


def test_a_small_jump_is_believed_when_the_next_report_agrees():
    source = source_in("quarters")
    _, at = run(source, UNITS["quarters"], rate=20, seconds=10, rng=random.Random(3))
    here = at * BPM / 60
    first = source.position(at + 0.05, Fraction(here + 0.05 * BPM / 60 + 0.25))
    second = source.position(at + 0.10, Fraction(here + 0.10 * BPM / 60 + 0.25))
    assert first == []
    assert [event.what for event in second] == [Happened.MOVED]


def test_one_late_packet_moves_nothing():
    source = source_in("quarters")
    _, at = run(source, UNITS["quarters"], rate=20, seconds=10, rng=random.Random(4))
    assert source.position(at + 0.35, Fraction(at * BPM / 60 + 0.05 * BPM / 60)) == []
    assert source.transport(at + 0.35).quarters == pytest.approx((at + 0.35) * BPM / 60, abs=0.02)


def test_a_loop_is_ordinary():
    source, events = source_in("quarters"), []
    source.tempo(0.0, 120)
    source.playing(0.0, True)
    for n in range(400):
        events += source.position(n * 0.05, Fraction(n * 0.1) % 8)
    assert {event.what for event in events} == {Happened.MOVED}
    assert source.transport(399 * 0.05).quarters == pytest.approx(39.9 % 8, abs=0.01)


def test_stop_and_start_are_taken_at_their_word():
    source = source_in("quarters")
    _, at = run(source, UNITS["quarters"], rate=10, seconds=5, rng=random.Random(5))
    assert [event.what for event in source.playing(at, False)] == [Happened.STOPPED]
    stood = source.transport(at + 5)
    assert not stood.playing
    assert stood.place is None
    assert stood.quarters == pytest.approx(at * BPM / 60, abs=0.02)
    assert [event.what for event in source.playing(at + 10, True)] == [Happened.STARTED]
    assert source.transport(at + 11).quarters == pytest.approx((at + 1) * BPM / 60, abs=0.02)


def test_a_host_that_never_says_so_plays_while_its_position_moves():
    source, events = source_in("quarters"), []
    for n in range(40):
        events += source.position(n * 0.05, Fraction(n, 10))
    assert source.transport(2.0).playing
    for n in range(40, 60):
        events += source.position(n * 0.05, Fraction(39, 10))
    assert [event.what for event in events if event.what is not Happened.MOVED] == [
        Happened.STARTED,
        Happened.STOPPED,
    ]
    assert source.transport(3.0).quarters == pytest.approx(3.9)


def test_a_new_tempo_is_told_and_used():
    source = source_in("quarters")
    _, at = run(source, UNITS["quarters"], rate=10, seconds=5, rng=random.Random(6))
    before = source.transport(at).quarters
    events = source.tempo(at, 66.0)
    assert [event.what for event in events] == [Happened.TEMPO_CHANGED]
    assert source.transport(at + 1).quarters - before == pytest.approx(1.1, abs=0.01)


def test_a_silent_host_is_lost_and_comes_back():
    source = source_in("quarters")
    _, at = run(source, UNITS["quarters"], rate=10, seconds=5, rng=random.Random(7))
    assert source.pass_time(at + 1.5) == []
    assert [event.what for event in source.pass_time(at + 2.5)] == [Happened.LOST]
    state = source.transport(at + 3)
    assert state.playing
    assert not state.locked
    assert state.quarters == pytest.approx((at + 3) * BPM / 60, abs=0.05)
    events = source.position(at + 4, Fraction((at + 4) * BPM / 60))
    assert [event.what for event in events] == [Happened.BACK]


def test_the_meter_counts_where_places_are_told_in_bars():
    source = source_in("bars")
    source.meter(7, 8)
    source.position(0.0, Fraction(3))
    assert source.transport(0.0).quarters == 7.0


REPORTS = st.one_of(
    st.tuples(st.just("position"), st.fractions(-(10**15), 10**15)),
    st.tuples(st.just("tempo"), st.floats(1e-30, 1e30)),
    st.tuples(st.just("playing"), st.booleans()),
)


@given(st.sampled_from(sorted(UNITS)), st.lists(st.tuples(st.floats(0, 3), REPORTS), max_size=40))
def test_no_reports_break_it(unit, reports):
    source, at = source_in(unit), 0.0
    for wait, (kind, value) in reports:
        at += wait
        getattr(source, kind)(at, value)
        source.pass_time(at)
        state = source.transport(at)
        assert not state.playing or state.quarters == state.quarters != float("inf")
