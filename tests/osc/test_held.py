"""What holding bundles until their time promises."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.osc.codec import IMMEDIATELY
from bridge.osc.held import FARTHEST, MOST_HELD, Held, unix_seconds

# OSC 1.0: seconds since 1900 and 2^-32 parts; the Unix epoch is 83AA7E80 00000000 (computed).
EPOCH = 0x83AA7E80_00000000


def tag(unix: float) -> int:
    return EPOCH + round(unix * 2**32)


def test_the_unix_epoch_is_zero():
    assert unix_seconds(EPOCH) == 0.0
    assert unix_seconds(EPOCH + 2**31) == 0.5


def test_immediately_and_past_times_are_due_at_once():
    held = Held()
    assert held.due_at(IMMEDIATELY, 5.0, 1000.0) == 5.0
    assert held.due_at(tag(999.0), 5.0, 1000.0) == 5.0
    assert held.due_at(tag(1000.0), 5.0, 1000.0) == 5.0
    assert held.wrong_clock == 0


def test_a_time_ahead_is_due_then():
    assert Held().due_at(tag(1000.25), 5.0, 1000.0) == pytest.approx(5.25, abs=1e-6)


@pytest.mark.parametrize("off", [FARTHEST + 1, 3600.0, 1e8, -FARTHEST - 1, -1e9])
def test_a_time_far_from_now_is_a_wrong_clock_and_due_at_once(off):
    held = Held()
    assert held.due_at(tag(2e9 + off), 5.0, 2e9) == 5.0
    assert held.wrong_clock == 1


@given(st.integers(0, 2**64 - 1))
def test_nothing_is_held_longer_than_the_bound(anything):
    assert 0.0 <= Held().due_at(anything, 0.0, 1.7e9) <= FARTHEST


@given(st.lists(st.floats(0, 10), max_size=50), st.floats(0, 10))
def test_what_is_due_comes_out_in_order_of_time_and_then_of_arrival(times, at):
    held = Held()
    for number, due in enumerate(times):
        assert held.hold(number, due)
    expected = sorted((due, number) for number, due in enumerate(times) if due <= at)
    assert held.take_due(at) == expected
    assert held.next_due() == min((due for due in times if due > at), default=None)


def test_what_finds_no_room_is_refused_and_counted():
    held = Held()
    assert all(held.hold(number, 1.0) for number in range(MOST_HELD))
    assert not held.hold(-1, 1.0)
    assert (len(held), held.crowded_out) == (MOST_HELD, 1)
