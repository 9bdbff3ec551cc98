"""What the counting of arrivals promises."""

import random

import pytest

from bridge.hostmap import Message
from bridge.live.inputs import Arrival
from bridge.live.traffic import Traffic
from bridge.store.recording import Recorded


def arrival(at, sender="MIDI", **what):
    return Arrival(recorded=Recorded(at=at, **what), sender=sender, packet=b"")


def streams(arrivals):
    traffic = Traffic()
    for one in arrivals:
        traffic.take(one)
    return {(stream.sender, stream.what): stream for stream in traffic.streams.values()}


@pytest.mark.parametrize("jitter", [0.0, 0.001, 0.003])
@pytest.mark.parametrize("ramp", [0.0, 0.02])
def test_rate_and_jitter_are_measured_whatever_the_tempo_does(jitter, ramp):
    rng, at, arrivals = random.Random(5), 0.0, []
    for number in range(97):
        arrivals.append(arrival(max(at + rng.gauss(0, jitter), 0), midi=b"\xf8"))
        at += 0.02 * (1 + ramp * number / 97)
    stream = streams(arrivals)["MIDI", "clock"]
    assert stream.count == 97
    assert stream.rate(at) == pytest.approx(50, rel=0.05)
    assert stream.jitter() == pytest.approx(jitter, rel=0.35, abs=2e-5)


def test_a_silent_stream_has_no_rate_and_an_uneven_one_no_jitter():
    rng = random.Random(1)
    times = sorted(rng.uniform(0, 10) for _ in range(90))
    stream = streams([arrival(at, osc=Message("/a")) for at in times])["MIDI", "/a"]
    assert stream.rate(20.0) is None
    assert stream.jitter() is None


def test_senders_and_names_are_told_apart():
    found = streams(
        [
            arrival(0, "10.0.0.1:5", osc=Message("/a", "i", (1,))),
            arrival(1, "10.0.0.2:5", osc=Message("/a", "i", (2,))),
            arrival(2, "10.0.0.2:5", raw=b"\xff"),
            arrival(3, midi=b"\xf2\x08\x00"),
            arrival(4, midi=b"\x90\x40\x40"),
        ]
    )
    assert list(found) == [
        ("10.0.0.1:5", "/a"),
        ("10.0.0.2:5", "/a"),
        ("10.0.0.2:5", "unreadable"),
        ("MIDI", "song position"),
        ("MIDI", "other MIDI"),
    ]
    assert found["MIDI", "song position"].newest == "F2 08 00"


def test_no_sender_makes_the_table_grow_without_bound():
    found = streams([arrival(n, osc=Message(f"/{n}")) for n in range(1000)])
    assert len(found) == 201
    assert found["others", ""].count == 800
