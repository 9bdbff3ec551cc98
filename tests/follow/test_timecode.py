"""Time codes: their arithmetic, their pieces, and the transport that they add up to."""

import random
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import PeerError
from bridge.follow import RATES, Happened, PlainScale, Timecode, TimecodeSource
from bridge.follow.messages import FullFrame, QuarterFrame
from bridge.follow.timecode import Assembler

RATE = st.sampled_from(RATES)
SCALE = PlainScale().at_tempo(120)


def frames_forward(first, rate, count):
    """Quarter frames from frame ``first`` on: (seconds of time code at the piece, message)."""
    for set_number in range(count):
        code = Timecode.of_frame(first + 2 * set_number, rate)
        for piece in code.pieces():
            yield (code.frame + Fraction(piece.piece, 4)) / rate.a_second, piece


@given(RATE, st.integers(0, 2_589_407))
def test_a_frame_and_its_name_are_inverse(rate, frame):
    frame %= rate.a_day
    assert Timecode.of_frame(frame, rate).frame == frame


@given(RATE, st.integers(0, 2_589_406))
def test_names_follow_one_another(rate, frame):
    one, two = Timecode.of_frame(frame, rate), Timecode.of_frame(frame + 1, rate)
    key = lambda code: (code.hours, code.minutes, code.seconds, code.frames)  # noqa: E731
    assert key(one) < key(two) or frame + 1 >= rate.a_day


@given(RATE, st.integers(0, 2_000_000))
def test_forward_pieces_give_the_place_of_the_newest(rate, first):
    assembler = Assembler()
    readings = [(seconds, assembler.take(piece)) for seconds, piece in frames_forward(first, rate, 3)]
    assert all(reading is None for _, reading in readings[:7])
    assert all(reading.real_seconds == seconds for seconds, reading in readings[7:])


@given(RATE, st.integers(100, 2_000_000))
def test_backward_pieces_give_the_place_of_the_newest(rate, first):
    assembler = Assembler()
    readings = [
        (seconds, assembler.take(piece)) for seconds, piece in reversed(list(frames_forward(first, rate, 3)))
    ]
    assert all(reading is None for _, reading in readings[:7])
    assert all(reading.real_seconds == seconds for seconds, reading in readings[7:])
    assert not readings[-1][1].forward


def test_a_lost_piece_waits_for_the_next_whole_set():
    assembler = Assembler()
    pieces = [piece for _, piece in frames_forward(1000, RATES[1], 4)]
    del pieces[11]
    readings = [assembler.take(piece) for piece in pieces]
    assert readings[10] is not None
    assert readings[11:22] == [None] * 11
    assert readings[22] is not None


@pytest.mark.parametrize(
    "fields",
    [
        {"hours": 24, "minutes": 0, "seconds": 0, "frames": 0},
        {"hours": 0, "minutes": 60, "seconds": 0, "frames": 0},
        {"hours": 0, "minutes": 0, "seconds": 60, "frames": 0},
        {"hours": 0, "minutes": 0, "seconds": 0, "frames": 30},
        {"hours": 0, "minutes": 1, "seconds": 0, "frames": 1},
    ],
)
def test_a_code_that_does_not_exist_is_refused(fields):
    with pytest.raises(PeerError, match="there is no time code"):
        Timecode(rate=RATES[2], **fields)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("seed", range(3))
def test_the_place_is_followed_through_jitter(rate, seed):
    rng = random.Random(seed)
    source = TimecodeSource(SCALE)
    start = None
    for seconds, piece in frames_forward(1500, rate, 100):
        start = seconds if start is None else start
        at = 10 + float(seconds - start) + rng.gauss(0, 0.001)
        source.feed(at, piece)
    state = source.transport(at)
    true = float(start) + at - 10
    assert state.playing
    assert state.locked
    assert state.quarters == pytest.approx(2 * true, abs=2 * 0.001)
    assert state.error_ms < 1


def test_backward_it_runs_backward():
    source = TimecodeSource(SCALE)
    pieces = list(reversed(list(frames_forward(1500, RATES[1], 50))))
    for number, (_, piece) in enumerate(pieces):
        source.feed(number * 0.01, piece)
    assert source.transport(4.0).quarters == pytest.approx(2 * (1500 / 25), abs=0.03)


def test_quarter_frames_that_end_are_a_stop():
    source = TimecodeSource(SCALE)
    for number, (_, piece) in enumerate(frames_forward(0, RATES[1], 20)):
        source.feed(number * 0.01, piece)
    assert source.pass_time(1.7) == []
    assert [event.what for event in source.pass_time(2.0)] == [Happened.STOPPED]
    state = source.transport(2.0)
    assert not state.playing
    assert state.quarters == pytest.approx(2 * 1.59, abs=0.01)


def test_a_full_frame_locates_and_does_not_play():
    source = TimecodeSource(SCALE)
    events = source.feed(0.0, FullFrame(rate=3, hours=0, minutes=1, seconds=0, frames=15))
    assert [event.what for event in events] == [Happened.MOVED]
    state = source.transport(5.0)
    assert (state.playing, state.quarters) == (False, 121.0)


def test_an_impossible_code_is_told_and_changes_nothing():
    source = TimecodeSource(SCALE)
    events = source.feed(0.0, FullFrame(rate=2, hours=0, minutes=1, seconds=0, frames=0))
    assert [event.what for event in events] == [Happened.UNREADABLE]
    assert source.transport(0.0).quarters is None


def test_a_jump_is_followed_and_told():
    source, events = TimecodeSource(SCALE), []
    pieces = [*frames_forward(0, RATES[1], 20), *frames_forward(5000, RATES[1], 20)]
    for number, (_, piece) in enumerate(pieces):
        events += source.feed(number * 0.01, piece)
    assert Happened.MOVED in [event.what for event in events]
    assert source.transport(3.19).quarters == pytest.approx(2 * (5000 / 25 + 1.59), abs=0.02)


def test_without_a_tempo_the_place_is_a_number_but_not_locked():
    source = TimecodeSource(PlainScale())
    for number, (_, piece) in enumerate(frames_forward(0, RATES[1], 20)):
        source.feed(number * 0.01, piece)
        state = source.transport(number * 0.01)
        assert state.quarters is not None
        assert not state.locked


@given(st.lists(st.tuples(st.integers(0, 7), st.integers(0, 15), st.floats(0, 1)), max_size=80))
def test_no_quarter_frames_break_it(pieces):
    source, at = TimecodeSource(SCALE), 0.0
    for piece, value, wait in pieces:
        at += wait
        source.feed(at, QuarterFrame(piece=piece, value=value))
        state = source.transport(at)
        assert not state.playing or state.quarters is not None
