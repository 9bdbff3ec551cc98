"""What turning JACK's frames into seconds promises."""

import random

import pytest

from bridge.midi.frames import FrameClock

RATE, PERIOD = 48_000, 128


def told(*, drift=0.0, late=0.0, seconds=120, start=0):
    """Tell a clock of a card that is ``drift`` too fast, by calls that come up to ``late`` s late."""
    rng, clock = random.Random(1), FrameClock(RATE)
    for number in range(int(seconds * RATE / PERIOD)):
        true = number * PERIOD / RATE / (1 + drift)
        clock.tell((start + number * PERIOD) % 2**32, true + rng.uniform(0, late))
    return clock, (start + number * PERIOD), true


@pytest.mark.parametrize("drift", [0.0, 1e-4, -1e-4])
def test_the_cards_own_tempo_is_followed(drift):
    clock, frame, true = told(drift=drift)
    assert clock.seconds(frame) == pytest.approx(true, abs=1e-4)


def test_late_calls_add_less_than_a_frame_of_jitter():
    clock, frame, _ = told(late=0.001)
    gap = clock.seconds(frame) - clock.seconds(frame - 1000)
    assert gap == pytest.approx(1000 / RATE, abs=0.1 / RATE)


def test_the_count_of_frames_may_wrap():
    clock, frame, true = told(start=2**32 - 60 * RATE)
    assert clock.seconds(frame % 2**32) == pytest.approx(true, abs=1e-4)
    assert clock.seconds((frame - RATE) % 2**32) == pytest.approx(true - 1, abs=1e-4)


def test_a_card_that_stood_still_begins_anew():
    clock, frame, true = told(seconds=1)
    clock.tell(frame + PERIOD, true + 60)
    assert clock.seconds(frame + PERIOD) == true + 60


def test_before_anything_is_told_there_is_no_time():
    with pytest.raises(ValueError, match="no frame"):
        FrameClock(RATE).seconds(0)
