"""What goes out to those who take cues: bytes, tags, failures; a second opinion by python-osc."""

from __future__ import annotations

import errno
import socket

import pytest
from pythonosc.osc_bundle import OscBundle

from bridge.clock.wall import WallClock
from bridge.errors import PeerError, UsageError
from bridge.hostmap import Address, Message
from bridge.osc import encode
from bridge.osc.codec import read_packet
from bridge.osc.held import time_tag, unix_seconds
from bridge.osc.sender import Destination, Sender
from bridge.osc.writing import bundle_of

CUE = Message("/pulsebridge/cue", "sis", ("Landfall in", 4, ""))


@pytest.fixture
def ear():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as opened:
        opened.bind(("127.0.0.1", 0))
        opened.settimeout(20)
        yield opened


def address(ear) -> str:
    return f"127.0.0.1:{ear.getsockname()[1]}"


def test_the_bundle_of_the_specification():
    # Bundle, immediate, one /foo 1: OSC 1.0's layout, computed by hand.
    expected = "2362756e 646c6500 00000000 00000001 00000010 2f666f6f 00000000 2c690000 00000001"
    assert bundle_of([encode(Message("/foo", "i", (1,)))], 1) == bytes.fromhex(expected)


def test_the_unix_epoch_has_the_published_time_tag():
    assert time_tag(0.0) == 0x83AA7E80_00000000  # computed: seconds from 1900 to 1970
    assert time_tag(0.5) == 0x83AA7E80_80000000
    assert abs(unix_seconds(time_tag(1_800_000_000.123456)) - 1_800_000_000.123456) < 1e-6


def test_without_a_lead_a_message_is_plain(ear):
    with Sender((Destination.parse(address(ear)),)) as sender:
        assert sender.send(sender.receivers[0], encode(CUE), wall=1_800_000_000.0)
    assert ear.recv(999) == encode(CUE)
    assert sender.receivers[0].sent == 1


def test_what_is_sent_ahead_carries_its_time(ear):
    with Sender((Destination.parse(address(ear) + "@40ms"),)) as sender:
        assert sender.receivers[0].ahead == 0.04
        sender.send(sender.receivers[0], encode(CUE), wall=1_800_000_000.25)
    packet = ear.recv(999)
    (part,) = read_packet(packet)
    assert part.message == CUE
    assert unix_seconds(part.tag) == pytest.approx(1_800_000_000.25, abs=1e-6)
    assert OscBundle(packet).timestamp == pytest.approx(1_800_000_000.25, abs=1e-6)


def test_bundles_can_be_left_out(ear):
    with Sender((Destination.parse(address(ear), ahead=0.1, bundles=False),)) as sender:
        sender.send(sender.receivers[0], encode(CUE), wall=1_800_000_000.25)
    assert ear.recv(999) == encode(CUE)


def test_a_failure_is_counted_and_is_no_error(ear):
    class Unplugged:
        def sendto(self, *_):
            raise OSError(errno.ENETUNREACH, "Network is unreachable")

    with Sender((Destination.parse(address(ear)), Destination.parse(address(ear)))) as sender:
        broken, whole = sender.receivers
        broken.socket = Unplugged()
        assert not sender.send(broken, encode(CUE), wall=0.0)
        assert sender.send(whole, encode(CUE), wall=0.0)
    assert (broken.sent, broken.failed, broken.error) == (0, 1, "Network is unreachable")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("9020", "HOST:PORT"),
        ("127.0.0.1:0", "port"),
        ("127.0.0.1:9020@2s", "at most 1 s"),
        ("127.0.0.1:9020@", "cannot be"),
        ("127.0.0.1:9020@-1ms", "cannot be"),
    ],
)
def test_what_is_no_destination_is_refused(text, why):
    with pytest.raises(UsageError, match=why) as refused:
        Destination.parse(text)
    assert "HOST:PORT@AHEAD" in str(refused.value)


def test_an_unknown_name_is_said_at_once():
    with (
        pytest.raises(PeerError, match="not known"),
        Sender((Destination(address=Address("no.such.invalid", 9)),)),
    ):
        pass


def test_a_lead_of_its_own_goes_before_the_common_one():
    assert Destination.parse("127.0.0.1:9", ahead=0.1).ahead == 0.1
    assert Destination.parse("127.0.0.1:9@0s", ahead=0.1).ahead == 0.0
    assert Destination.parse("[::1]:9@5ms").address == Address("::1", 9)


def test_a_clock_set_anew_is_noticed_and_a_drift_is_followed():
    now, off = [100.0], [1_000.0]
    clock = WallClock(steady=lambda: now[0], wall=lambda: now[0] + off[0])
    assert clock.at(101.0) == 1_101.0
    assert clock.steady(1_101.0) == 101.0
    off[0] += 0.0005
    assert clock.measure() == 0.0
    assert clock.at(101.0) == pytest.approx(1_101.0005)
    off[0] -= 3600
    assert clock.measure() == pytest.approx(-3600)
    assert clock.measure() == 0.0


def test_a_reading_that_was_held_up_does_not_count():
    readings = iter([0.0, 0.5, *[1.0, 1.0001] * 4])  # the first pair lies half a second apart
    clock = WallClock(steady=lambda: next(readings), wall=lambda: 50.0)
    assert clock.at(1.0) == pytest.approx(50.0, abs=1e-3)
