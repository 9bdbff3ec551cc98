"""A leading bridge handed over to its outlet, ahead of time."""

from __future__ import annotations

import pytest

from bridge.live.lead_out import LeadOut
from bridge.midi.lateness import Lateness
from bridge.show import SendOsc
from bridge.show.conductor import Conductor
from bridge.show.control import control
from bridge.show.leading import Wanted
from bridge.show.programme import Programme
from tests.out.songs import layer, section, song


class Port:
    """An outlet that keeps what it gets, with the time at which it got it."""

    ahead = 0.03
    lateness = Lateness()

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
    """As the daemon does: the conductor first, then its companion; what is left for others to send."""
    rest = []
    while True:
        times = [at for at in (conductor.wake_at, out.wake_at) if at is not None and at <= until]
        if not times:
            return rest
        port.now = max(port.now, min(times))
        due = conductor.wake_at
        if due is not None and due <= port.now and conductor.wake(port.now):
            rest += out.look(port.now, conductor)
        if out.wake_at is not None and out.wake_at <= port.now:
            rest += out.wake(port.now)


def test_all_is_handed_over_ahead_in_the_order_of_its_time(conductor, port):
    port.now = 10.0
    out = LeadOut(Wanted(), outlet=port)
    conductor.begin(10.5, count_in=1)
    rest = out.look(port.now, conductor)
    rest += drive(conductor, out, port, 100.0)
    ticks = [due for _, due, message in port.got if message == b"\xf8"]
    assert ticks == pytest.approx([10.5 + number / 48 for number in range(5 * 96)])
    assert [due for _, due, _ in port.got] == sorted(due for _, due, _ in port.got)
    assert all(now <= due - 0.02999 for now, due, _ in port.got)
    assert [message for _, _, message in port.got if message != b"\xf8"] == [b"\xfa", b"\xfc"]
    said = [one for one in rest if isinstance(one, SendOsc)]
    assert said[-1].message.args == (16.0, 8.0, 120.0, 0)


def test_stopped_by_hand_the_stop_comes_after_what_was_handed_over(conductor, port):
    out = LeadOut(Wanted(), outlet=port)
    conductor.begin(10.0, count_in=0)
    out.look(10.0, conductor)
    drive(conductor, out, port, 11.0)
    out.stop(11.0)
    assert port.got[-1][1:] == (11.03, b"\xfc")
    assert out.wake_at is None


def test_without_a_port_the_place_is_said_all_the_same(conductor):
    out = LeadOut(Wanted(clock=False))
    conductor.begin(10.0, count_in=0)
    conductor.control(10.0, control("hold"))
    said = out.look(10.0, conductor) + drive(conductor, out, Port(), 14.2)
    places = [one.message.args[0] for one in said]
    assert places[:3] == [0.0, 0.25, 0.5]
    assert max(places) == 7.75


def test_after_a_sleep_receivers_are_sent_to_where_the_show_goes_on(conductor, port):
    out = LeadOut(Wanted(position=False), outlet=port)
    conductor.begin(10.0, count_in=0)
    out.look(10.0, conductor)
    drive(conductor, out, port, 11.0)
    before = len(port.got)
    conductor.wake(31.0)
    out.look(31.0, conductor)
    drive(conductor, out, port, 32.0)
    after = [message for _, _, message in port.got[before:]]
    assert after.count(b"\xf8") < 4 * 48
    assert [message[:1] for message in after if message != b"\xf8"] == [b"\xfc", b"\xf2", b"\xfb"]
    assert out.dropped > 0
