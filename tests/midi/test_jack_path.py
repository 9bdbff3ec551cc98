"""A real MIDI path: a JACK server, a client that sends a clock, and we who read it."""

import contextlib
import itertools
import statistics
import threading
import time

import pytest

from bridge.errors import DeviceError
from bridge.follow import Follower, Source
from bridge.midi import MidiIn
from bridge.midi.jack import JackIn
from tests.midi.server import RATE, needed, serving

TICK = 2.5 / 150
"""Seconds: 60 ticks a second, at 150 bpm."""
KNOCK = b"\xfe"
"""Active sensing: says nothing of the transport."""


@pytest.fixture(scope="module")
def server():
    with serving() as running:
        yield running


class Ear:
    """What came, with its time, and a way to wait for it."""

    def __init__(self):
        self.heard, self.knocks, self.frames, self.news = [], [], [], []
        self._change = threading.Condition()

    def take(self, at, data):
        with self._change:
            (self.knocks if data == KNOCK else self.heard).append((at, data))
            self._change.notify_all()

    def take_frame(self, frame, data):
        self.frames.append((frame, data))

    def tell(self, news):
        with self._change:
            self.news.append(news)
            self._change.notify_all()

    def wait_until(self, true, seconds=15.0):
        with self._change:
            assert self._change.wait_for(true, seconds), (self.heard[-3:], self.news)


@contextlib.contextmanager
def sender(name="tide"):
    rtmidi = needed("rtmidi")
    out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name)
    out.open_virtual_port("clock")
    try:
        yield out
    finally:
        out.delete()


def knock(out, ear):
    """Send until something arrives: JACK's new connections take effect with a later period."""
    before, deadline = len(ear.knocks), time.monotonic() + 10
    while len(ear.knocks) == before and time.monotonic() < deadline:
        out.send_message(list(KNOCK))
        time.sleep(0.02)  # a MIDI message every 20 ms, as a sender would
    assert len(ear.knocks) > before


def play(out, ticks):
    """Send Start and a clock as evenly as this machine can; return the longest gap, in seconds."""
    start = time.perf_counter() + 0.01
    out.send_message([0xFA])
    sent = []
    for number in range(ticks):
        while time.perf_counter() < start + number * TICK:
            pass
        out.send_message([0xF8])
        sent.append(time.perf_counter())
    return max(later - earlier for earlier, later in itertools.pairwise(sent))


def performance():
    """Play until it came through evenly; return what was heard, and whether it did.

    A starved machine stops the sender, or its server loses whole periods with all that was in
    them, the Start too: that is theirs, and such a performance says little of the follower.
    """
    for _ in range(6):
        ear = Ear()
        with sender() as out, MidiIn("tide:clock", take=ear.take) as port:
            knock(out, ear)
            longest_gap = play(out, 241)
            knock(out, ear)
            assert port.dropped == 0
        times = [at for at, _ in ear.heard]
        gaps = [later - earlier for earlier, later in itertools.pairwise(times)]
        is_whole = ear.heard[0][1] == b"\xfa" and len(ear.heard) >= 238
        if is_whole and max(longest_gap, *gaps) < 3 * TICK:
            return ear, True
    return ear, False


def test_the_follower_reads_a_clock_that_comes_through_the_driver(server):
    ear, is_even = performance()
    assert len(ear.heard) > 100
    follower = Follower()
    for at, data in ear.heard:
        follower.midi(at, data)
    if is_even:
        state = follower.transport(ear.heard[-1][0])
        assert (state.playing, state.source, state.locked) == (True, Source.CLOCK, True)
        assert state.quarters == pytest.approx(10, abs=0.25)  # the last four ticks may be the lost ones
        assert state.bpm == pytest.approx(150, rel=0.05)


def test_messages_come_whole_in_order_and_with_rising_times(server):
    sent = [[0xF2, 8, 0], [0xFB], [0xF0, *range(100), 0xF7], [0x90, 60, 100], [0xF1, 0x70], [0xFC]]
    ear = Ear()
    with sender() as out, MidiIn("tide:clock", take=ear.take) as port:
        knock(out, ear)
        for message in sent:
            out.send_message(message)
        ear.wait_until(lambda: len(ear.heard) >= len(sent))
        assert [list(data) for _, data in ear.heard] == sent
        assert port.dropped == 0
    times = [at for at, _ in ear.heard]
    assert times == sorted(times)


def test_a_virtual_port_is_there_for_others_to_send_to(server):
    rtmidi, ear = needed("rtmidi"), Ear()
    with MidiIn("relay", take=ear.take, virtual=True):
        out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "tide")
        (name,) = (name for name in out.get_ports() if name.endswith(":relay"))
        out.open_port(out.get_ports().index(name))
        knock(out, ear)
        out.delete()


@pytest.mark.parametrize("kind", [MidiIn, JackIn])
def test_a_port_that_goes_is_reported_and_opened_again_when_it_returns(server, kind):
    ear = Ear()
    with contextlib.ExitStack() as first:
        out = first.enter_context(sender())
        first_port = kind("tide:clock", take=ear.take, tell=ear.tell, look_every=0.1)
        with first_port:
            knock(out, ear)
            first.close()
            ear.wait_until(lambda: len(ear.news) == 1)
            with sender() as back:
                ear.wait_until(lambda: len(ear.news) == 2)
                knock(back, ear)
    assert [news.there for news in ear.news[:2]] == [False, True]
    assert "'tide:clock' is gone" in str(ear.news[0])


@pytest.mark.parametrize("kind", [MidiIn, JackIn])
def test_a_server_that_dies_is_survived(kind):
    ear = Ear()
    with serving() as server, contextlib.ExitStack() as first:
        out = first.enter_context(sender())
        with kind("tide:clock", take=ear.take, tell=ear.tell, look_every=0.1):
            knock(out, ear)
            server.kill()
            first.close()
            ear.wait_until(lambda: len(ear.news) == 1)
            server.start()
            with sender() as back:
                ear.wait_until(lambda: len(ear.news) == 2)
                knock(back, ear)
    assert [news.there for news in ear.news[:2]] == [False, True]


def test_a_missing_port_names_the_near_one(server):
    with sender(), pytest.raises(DeviceError, match="there is no MIDI port 'tide:clok'") as caught:
        MidiIn("tide:clok", take=lambda *_: None).__enter__()
    assert "'tide:clock'" in (caught.value.hint or "")
    assert caught.value.exit_code == 3


def test_no_server_at_all_is_said_without_noise(capfd, monkeypatch):
    needed("rtmidi")
    needed("jack")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nobody-runs-this")
    with pytest.raises(DeviceError):
        MidiIn("tide:clock", take=lambda *_: None).__enter__()
    with pytest.raises(DeviceError, match="JACK cannot be reached"):
        JackIn("tide:clock", take=lambda *_: None).__enter__()
    assert capfd.readouterr().err == ""


def named(frame):
    """An exclusive message that names its own frame (7D: for use without an identity, MIDI 1.0)."""
    return bytes([0xF0, 0x7D, *(frame >> 7 * place & 0x7F for place in range(5)), 0xF7])


def frame_in(data):
    return sum(byte << 7 * place for place, byte in enumerate(data[2:7]))


@contextlib.contextmanager
def exact_clock(frames_a_tick):
    """A JACK client that sends each so many frames, to the frame; a list of the server's mishaps."""
    jack = needed("jack")
    client = jack.Client("exact", no_start_server=True)
    port, mishaps = client.midi_outports.register("clock"), []

    @client.set_process_callback
    def process(frames):
        port.clear_buffer()
        start = client.last_frame_time
        for offset in range(-start % frames_a_tick, frames, frames_a_tick):
            port.write_midi_event(offset, named((start + offset) % 2**32))

    client.set_xrun_callback(mishaps.append)
    with client:
        yield mishaps


def read_with_jacks_times(every, count):
    """Read a clock that is sent to the frame: the server's period, what was heard, and was all calm."""
    ear = Ear()
    with (
        serving(even=True) as server,
        exact_clock(every) as mishaps,
        JackIn("exact:clock", take=ear.take, take_frame=ear.take_frame),
    ):
        ear.wait_until(lambda: len(ear.heard) >= count)
        return server.period, ear, not mishaps


def test_the_reader_with_jacks_own_times_has_no_residual_at_all():
    every, count = 800, 120
    for _ in range(4):
        period, ear, calm = read_with_jacks_times(every, count)
        if calm:
            break
    residuals = [frame - frame_in(data) for frame, data in ear.frames]
    assert period % every != 0
    # A sender that misses its period on a busy machine is heard whole periods later, and only then.
    assert {residual % period for residual in residuals} == {0}
    seconds = [at - frame / RATE for (at, _), (frame, _) in zip(ear.heard, ear.frames, strict=True)]
    if calm:
        assert residuals.count(0) >= count - 1
        assert statistics.pstdev(seconds[count // 2 : count]) < 1 / RATE
