"""MIDI sent at its own frame through a real JACK server, and read with JACK's own times."""

from __future__ import annotations

import statistics
import threading
import time

import pytest

from bridge.errors import DeviceError
from bridge.midi.jack import JackIn
from bridge.midi.jack_out import JackOut
from tests.midi.server import RATE, serving

TICK = 1 / 48
COUNT = 96


class Ear:
    """What came, with its frame, and a way to wait for it."""

    def __init__(self):
        self.heard, self.times = [], []
        self._change = threading.Condition()

    def take(self, at, data):
        with self._change:
            self.times.append(at)
            self.heard.append(data)
            self._change.notify_all()

    def wait(self, true, seconds=20.0):
        with self._change:
            return self._change.wait_for(true, seconds)


def knocked(out, ear):
    """Send until something arrives: JACK's new connections take effect with a later period."""
    until = time.monotonic() + 20
    while time.monotonic() < until:
        out.at(time.monotonic(), b"\xfe")
        if ear.wait(lambda: ear.heard, 0.05):
            return
    pytest.fail("nothing came through")


def performance():
    """Hand over a clock well ahead; return when each tick was due, and when it came."""
    ear = Ear()
    with (
        serving(even=True),
        JackOut("clock", virtual=True) as out,
        JackIn("pulsebridge:clock", take=ear.take) as _,
    ):
        knocked(out, ear)
        time.sleep(1.2)  # the line from frames to seconds is set once a second
        start = time.monotonic() + out.ahead + 0.2
        dues = [start + number * TICK for number in range(COUNT)]
        for due in dues:
            out.at(due, b"\xf8")
        assert ear.wait(lambda: ear.heard.count(b"\xf8") >= COUNT)
        times = [at for at, data in zip(ear.times, ear.heard, strict=True) if data == b"\xf8"]
    return dues, times, out.lateness.worst


def test_each_message_leaves_at_the_frame_nearest_to_its_time():
    """A starved server delays whole periods of 1024 frames; most ticks are even all the same."""
    for _ in range(5):
        dues, times, worst = performance()
        off = [came - due for due, came in zip(dues, times, strict=True)]
        middle = statistics.median(off)
        even = sum(abs(one - middle) < 16 / RATE for one in off)
        if even > 0.75 * COUNT and abs(middle) < 0.002:
            return
    pytest.fail(f"five times only {even} of {COUNT} were even: {middle} s, handed over {worst} s late")


def test_without_a_server_or_a_port_it_says_so():
    with pytest.raises(DeviceError, match="JACK cannot be reached"):
        JackOut("clock").__enter__()
    with serving(), pytest.raises(DeviceError, match="no MIDI port 'nobody'"):
        JackOut("nobody").__enter__()
