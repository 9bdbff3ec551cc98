"""What the practice host promises, without a network."""

import random
from fractions import Fraction as F

import pytest

from bridge.errors import UsageError
from bridge.exact import Meter, Tempo
from bridge.hostmap import Message
from bridge.plan import load
from bridge.practice import Note, Rig, SongTimeline, SteadyTimeline, Weather
from bridge.song import unroll

PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 120
meter: 4/4
origin: {bar: 2}
layers: {band: {cycle: 1/8}}
sections:
  - {name: Prelude, layers: [band], bars: 2}
  - {name: Crossing, layers: [band], bars: 2, tempo: 60, meter: 3/4}
"""


def rig(**more) -> Rig:
    return Rig(SteadyTimeline(Tempo.constant(F(120)), Meter.parse("4/4")), **more)


def test_a_marker_is_made_each_time_it_is_put_and_told_of():
    host = rig(notes=[(1.0, "mine")])
    put = Message("/rig/note/put", "fs", (2.5, "Ebb"))
    assert host.hear(put, 0) == [Message("/rig/note", "ifs", (2, 2.5, "Ebb"))]
    host.hear(put, 0)
    assert host.notes == (Note(1, 1.0, "mine"), Note(2, 2.5, "Ebb"), Note(3, 2.5, "Ebb"))


def test_the_list_ends_with_its_end():
    host = rig(notes=[(1.0, "mine")])
    assert host.hear(Message("/rig/note/all"), 0) == [
        Message("/rig/note", "ifs", (1, 1.0, "mine")),
        Message("/rig/notes/end"),
    ]


def test_a_dropped_marker_is_gone_and_its_number_never_used_again():
    host = rig(notes=[(1.0, "mine")])
    drop = Message("/rig/note/drop", "i", (1,))
    assert host.hear(drop, 0) == [Message("/rig/note/gone", "i", (1,))]
    assert host.hear(drop, 0) == []
    host.hear(Message("/rig/note/put", "fs", (2.5, "Ebb")), 0)
    assert [note.id for note in host.notes] == [2]


def test_it_rolls_from_where_it_was_sent_and_stands_where_it_stopped():
    host = rig()
    host.hear(Message("/rig/goto", "f", (8.0,)), 10.0)
    host.hear(Message("/rig/roll", "i", (1,)), 11.0)
    assert host.quarters(12.5) == 11
    host.hear(Message("/rig/roll", "i", (0,)), 13.0)
    assert (host.playing, host.quarters(99.0)) == (False, 12)


def test_it_reports_on_change_and_at_its_rate_while_it_plays():
    host = rig(rate=20)
    assert [m.address for m in host.hear(Message("/rig/roll", "i", (1,)), 1.0)] == [
        "/rig/rolling", "/rig/where", "/rig/speed", "/rig/meter",
    ]  # fmt: skip
    assert host.wake(1.01) == []
    assert host.wake(1.05) == [Message("/rig/where", "f", (float(F(1.05 - 1.0) * 2),))]


def test_a_standing_transport_tells_everything_twice_a_second():
    host = rig()
    assert len(host.wake(0.0)) == 4
    assert host.wake(0.4) == []
    assert len(host.wake(0.5)) == 4


def test_it_takes_its_tempi_and_meters_from_a_song():
    host = Rig(SongTimeline(unroll(load(PLAN), (2, 2))))
    host.hear(Message("/rig/goto", "f", (11.0,)), 0.0)
    host.hear(Message("/rig/roll", "i", (1,)), 0.0)
    assert host.quarters(0.5) == 12
    assert host.quarters(1.5) == 13
    told = {message.address: message.args for message in host.wake(1.5)}
    assert told["/rig/speed"] == (60.0,)
    assert told["/rig/meter"] == (3, 4)


def test_what_it_does_not_understand_is_counted():
    host = rig()
    for message in (Message("/other"), Message("/rig/roll", "s", ("on",)), Message("/rig/note/drop")):
        assert host.hear(message, 0) == []
    assert host.ignored == 3


def test_the_weather_is_the_same_for_the_same_seed():
    weather = Weather(lose=0.25, double=0.1, reorder=0.2, delay=0.03, seed=7)
    first, second = random.Random(weather.seed), random.Random(weather.seed)
    times = [weather.arrivals(float(i), first) for i in range(4000)]
    assert times == [weather.arrivals(float(i), second) for i in range(4000)]
    lost = sum(not arrivals for arrivals in times) / 4000
    assert 0.22 < lost < 0.28
    doubled = sum(len(arrivals) == 2 for arrivals in times) / 3000
    assert 0.08 < doubled < 0.12
    assert all(at >= i + 0.03 for i, arrivals in enumerate(times) for at in arrivals)


@pytest.mark.parametrize("bad", [{"lose": 1.1}, {"double": -0.1}, {"delay": -1}, {"reorder": float("nan")}])
def test_impossible_weather_is_refused(bad):
    with pytest.raises(UsageError):
        Weather(**bad)
