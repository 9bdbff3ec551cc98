"""Sending through a real JACK server: whole messages, no stuck note, a port that goes and comes."""

from __future__ import annotations

import threading
import time

import pytest

from bridge.errors import DeviceError
from bridge.midi import MidiIn, MidiOut
from tests.midi.server import needed, serving

KNOCK = b"\xfe"
"""Active sensing: says nothing."""


@pytest.fixture(scope="module", autouse=True)
def server():
    needed("rtmidi")
    with serving() as running:
        yield running


class Ear:
    """What came, and a way to wait for it."""

    def __init__(self):
        self.heard, self.news = [], []
        self._change = threading.Condition()

    def take(self, _, data):
        with self._change:
            self.heard.append(data)
            self._change.notify_all()

    def tell(self, news):
        with self._change:
            self.news.append(news.there)
            self._change.notify_all()

    def wait_until(self, true, seconds=20.0):
        with self._change:
            assert self._change.wait_for(true, seconds), (self.heard[-5:], self.news)

    def wait(self, count, seconds):
        """Wait until so many came that say something, or for so long."""
        with self._change:
            self._change.wait_for(lambda: len(musical(self)) >= count, seconds)

    def knocked(self, port):
        """Send until something arrives: JACK's new connections take effect with a later period."""
        until = time.monotonic() + 20
        with self._change:
            while time.monotonic() < until:
                port.send(KNOCK)
                if self._change.wait_for(lambda: KNOCK in self.heard, 0.02):
                    return
        pytest.fail("nothing came through")


def musical(ear):
    return [data for data in ear.heard if data != KNOCK]


def performance(sent):
    """Return what came of ``sent`` and of the end, once it came through.

    A starved server repeats the buffer of a client that was late, or loses it: that is the
    driver's, and such a performance says nothing of ours.
    """
    for _ in range(8):
        ear = Ear()
        with MidiIn("quay", take=ear.take, virtual=True):
            with MidiOut("pulsebridge:quay") as port:
                ear.knocked(port)
                assert all(port.send(message) for message in sent)
            assert (port.failed, port.error) == (0, None)
            ear.wait(len(sent) + 1, seconds=3)
        if len(set(musical(ear))) == len(sent) + 1:
            return musical(ear)
    pytest.fail("eight times the server lost messages")


def test_whole_messages_go_out_and_no_note_is_left_sounding(server):
    sent = [b"\xc2\x0c", b"\xf0\x7d\x01\x02\xf7", b"\x93\x3c\x64", b"\x90\x40\x64", b"\x80\x40\x00"]
    assert performance(sent) == [*sent, b"\x83\x3c\x40"]


def test_a_port_that_goes_is_waited_for():
    ear, out = Ear(), None
    with MidiIn("pier", take=ear.take, virtual=True):
        out = MidiOut("pulsebridge:pier", tell=ear.tell, look_every=0.05)
        out.__enter__()
        try:
            ear.knocked(out)
        except BaseException:
            out.__exit__(None, None, None)
            raise
    try:
        ear.wait_until(lambda: ear.news == [False])
        assert not out.send(b"\xc0\x01")
        assert (out.failed, out.error) == (1, "the port is gone")
        again = Ear()
        with MidiIn("pier", take=again.take, virtual=True):
            ear.wait_until(lambda: ear.news == [False, True])
            again.knocked(out)
    finally:
        out.__exit__(None, None, None)


def test_a_port_that_is_not_there_is_refused_by_name():
    with pytest.raises(DeviceError, match="no MIDI port 'nowhere'"), MidiOut("nowhere"):
        pass
