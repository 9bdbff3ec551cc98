"""A leading bridge handed over to its outlet, ahead of time."""

from __future__ import annotations

import pytest

from bridge.live.lead_out import LeadOut
from bridge.show.conductor import Conductor
from bridge.show.control import control
from bridge.show.leading import Wanted
from bridge.show.programme import Programme
from tests.out.songs import layer, section, song


class Port:
    """An outlet that keeps what it gets, with the time at which it got it."""

    ahead = 0.03

    def __init__(self):
        self.got, self.now = [], 0.0

    def at(self, due, message):
        self.got.append((self.now, due, message))


@pytest.fixture
def port():
    return Port()


@pytest.fixture
def conductor():
    made = song(
        [layer("band", 1)],
        [section("Prelude", 2, ["band"], tempo="120"), section("Landfall", 2, ["band"], tempo="120")],
    )
    return Conductor(Programme((made,)), led=True)


def drive(conductor, out, port, until):
    while True:
        times = [at for at in (conductor.wake_at, out.wake_at) if at is not None and at <= until]
        if not times:
            return
        port.now = min(times)
        conductor.wake(port.now)
        out.follow(conductor, port.now)


def test_all_is_handed_over_ahead_in_the_order_of_its_time(conductor, port):
    said, told = [], []
    out = LeadOut(Wanted(), outlet=port, send=said.extend, tell=told.append)
    conductor.begin(10.0, count_in=1)
    out.follow(conductor, 9.9)
    drive(conductor, out, port, 100.0)
    ticks = [due for _, due, message in port.got if message == b"\xf8"]
    assert ticks == pytest.approx([10 + number / 48 for number in range(5 * 96)])
    assert [due for _, due, _ in port.got] == sorted(due for _, due, _ in port.got)
    assert all(now <= due - 0.02999 for now, due, _ in port.got if due > 10.1)
    assert [message for _, _, message in port.got if message != b"\xf8"] == [b"\xfa", b"\xfc"]
    assert said[-1].message.args == (16.0, 8.0, 120.0, 0)
    assert told == []


def test_stopped_by_hand_the_stop_comes_after_what_was_handed_over(conductor, port):
    out = LeadOut(Wanted(), outlet=port, send=lambda _: None, tell=lambda _: None)
    conductor.begin(10.0, count_in=0)
    out.follow(conductor, 10.0)
    drive(conductor, out, port, 11.0)
    out.stop(11.0)
    assert port.got[-1][1:] == (11.03, b"\xfc")
    assert out.wake_at is None


def test_without_a_port_the_place_is_said_all_the_same(conductor):
    said = []
    out = LeadOut(Wanted(clock=False), outlet=None, send=said.extend, tell=lambda _: None)
    conductor.begin(10.0, count_in=0)
    conductor.control(10.0, control("hold"))
    out.follow(conductor, 10.0)
    drive(conductor, out, Port(), 14.2)
    places = [one.message.args[0] for one in said]
    assert places[:3] == [0.0, 0.25, 0.5]
    assert max(places) == 7.75
