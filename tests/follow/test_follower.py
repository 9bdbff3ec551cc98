"""Several sources at once: who leads, who disagrees, and a loss that nobody hears."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.follow import Follower, Happened, Source
from bridge.hostmap import Number, PlayingHeard, PositionHeard, TempoHeard

TICK = 2.5 / 120


def position(quarters):
    return PositionHeard(Number(Fraction(quarters), Fraction(0)))


def tempo(bpm):
    return TempoHeard(Number(Fraction(bpm), Fraction(0)))


class Host:
    """A host at 120 bpm that sends clock and reports, both with jitter."""

    def __init__(self, *, seed=0, osc_ahead=0.0, osc=True):
        self.rng, self.follower, self.events = random.Random(seed), Follower(), []
        self.osc, self.osc_ahead = osc, osc_ahead
        self.tick = 0
        if osc:
            self.follower.heard(0.0, tempo(120))
            self.follower.heard(0.0, position(0))
        self.follower.midi(0.0, b"\xfa")
        if osc:
            self.events += self.follower.heard(0.001, PlayingHeard(True))

    def play(self, seconds, *, clock=True, osc=True):
        """Play on; return the greatest step that the place took beyond the tempo's, in quarters."""
        told, worst = None, 0.0
        for _ in range(round(seconds / TICK)):
            at = 0.01 + self.tick * TICK
            if clock:
                self.events += self.follower.midi(at + abs(self.rng.gauss(0, 0.0005)), b"\xf8")
            if osc and self.osc and self.tick % 4 == 0:
                quarters = self.tick / 24 + self.osc_ahead
                self.events += self.follower.heard(at + 0.003, position(Fraction(quarters)))
            self.events += self.follower.pass_time(at + 0.01)
            state = self.follower.transport(at + 0.01)
            if told is not None:
                worst = max(worst, abs(state.quarters - told - 1 / 24))
            told, self.tick = state.quarters, self.tick + 1
        return worst

    @property
    def now(self):
        return 0.01 + self.tick * TICK

    def what(self, kind):
        return [event for event in self.events if event.what is kind]


def test_one_source_leads_alone():
    host = Host(osc=False)
    host.play(5)
    state = host.follower.transport(host.now)
    assert (state.source, state.locked) == (Source.CLOCK, True)
    assert state.quarters == pytest.approx(10, abs=0.01)


def test_a_source_that_falls_silent_passes_the_lead_without_a_jump():
    host = Host(osc_ahead=0.06)
    host.play(8)
    leader = host.follower.transport(host.now).source
    assert leader is not None
    step = host.play(8, clock=leader is not Source.CLOCK, osc=leader is not Source.OSC)
    after = host.follower.transport(host.now)
    assert after.source is not leader
    assert after.locked
    assert step < 0.02
    assert not host.what(Happened.MOVED)


def test_what_the_new_leader_says_otherwise_is_made_up_for():
    host = Host(osc_ahead=0.06)
    host.play(8)
    host.play(8, clock=False)
    state = host.follower.transport(host.now)
    assert state.source is Source.OSC
    assert state.quarters == pytest.approx(host.tick / 24 + 0.06, abs=0.01)


def test_sources_that_agree_are_not_reported():
    host = Host(seed=3)
    host.play(10)
    assert not host.what(Happened.DISAGREES)


def test_a_disagreement_is_reported_once_with_its_figure():
    host = Host(osc_ahead=0.5)
    host.play(10)
    (event,) = host.what(Happened.DISAGREES)
    assert "ms from" in event.detail
    assert abs(float(event.detail.split()[0])) == pytest.approx(250, abs=10)


def test_one_that_stands_while_another_plays_on_for_certain_is_reported_and_loses_the_lead():
    host = Host()
    host.play(3)
    host.events += host.follower.heard(host.now, PlayingHeard(False))
    host.osc = False
    host.play(3)
    state = host.follower.transport(host.now)
    assert (state.playing, state.source) == (True, Source.CLOCK)
    (event,) = host.what(Happened.DISAGREES)
    assert "stands still" in event.detail


def test_when_all_stop_nothing_disagrees():
    host = Host()
    host.play(3)
    host.events += host.follower.heard(host.now, PlayingHeard(False))
    host.events += host.follower.midi(host.now + 0.2, b"\xfc")
    for n in range(20):
        host.events += host.follower.pass_time(host.now + 0.2 + n / 10)
    assert not host.follower.transport(host.now + 3).playing
    assert not host.what(Happened.DISAGREES)


def test_nothing_heard_is_nothing_known():
    state = Follower().transport(3.0)
    assert (state.playing, state.quarters, state.source, state.locked) == (False, None, None, False)


def test_a_clock_that_was_never_started_has_a_tempo_but_no_place():
    follower = Follower()
    for n in range(100):
        follower.midi(n * TICK, b"\xf8")
    state = follower.transport(2.1)
    assert (state.playing, state.quarters, state.source) == (False, None, Source.CLOCK)
    assert state.bpm == pytest.approx(120, rel=1e-3)


def test_a_broken_message_is_an_event():
    (event,) = Follower().midi(0.0, b"\xf2\x01")
    assert event.what is Happened.UNREADABLE
    assert "F2 01" in event.detail


def test_messages_of_others_change_nothing():
    host = Host(osc=False)
    host.play(2)
    before = host.follower.transport(host.now)
    assert host.follower.midi(host.now, b"\x90\x40\x7f") == []
    assert host.follower.transport(host.now) == before


MIDI = st.sampled_from(
    [b"\xf8", b"\xf8", b"\xfa", b"\xfb", b"\xfc", b"\xf2\x08\x00", b"\xf1\x00", b"\x90\x40\x7f"]
)
HEARD = st.one_of(
    st.builds(position, st.fractions(0, 1000, max_denominator=960)),
    st.builds(tempo, st.fractions(30, 300, max_denominator=10)),
    st.builds(PlayingHeard, st.booleans()),
)


@given(st.lists(st.tuples(st.floats(0, 1), st.one_of(MIDI, HEARD)), max_size=60))
def test_quarters_is_a_number_whenever_playing(steps):
    follower, at = Follower(), 0.0
    for wait, said in steps:
        at += wait
        if isinstance(said, bytes):
            follower.midi(at, said)
        else:
            follower.heard(at, said)
        state = follower.transport(at)
        assert not state.playing or isinstance(state.quarters, float)


@given(st.lists(st.tuples(st.floats(0, 1), MIDI), max_size=60))
def test_the_same_input_gives_the_same_output(steps):
    def told():
        follower, at, states = Follower(), 0.0, []
        for wait, data in steps:
            at += wait
            follower.midi(at, data)
            states.append(follower.transport(at))
        return states

    assert told() == told()
