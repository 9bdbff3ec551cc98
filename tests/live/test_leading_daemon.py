"""A show that is led, with a practice host that is driven by it, really over UDP on this machine."""

from __future__ import annotations

import asyncio
from functools import partial
from itertools import pairwise

import pytest

from bridge.live.daemon import Daemon
from bridge.live.lead_ports import add_ports
from bridge.show import Conductor, Programme
from bridge.show.leading import Wanted
from tests.live.rig import Rig


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    folder = tmp_path / "state"
    folder.mkdir()
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(folder))


class LedRig(Rig):
    """The rig with a bridge that leads; what the host says of itself, in order."""

    def __init__(self, folder, **more):
        super().__init__(folder, **more)
        make = partial(Conductor, led=True)
        programme = Programme((self.song,))
        self.daemon = Daemon(programme, self.settings, report=self._report, warn=self._warn, make=make)
        add_ports(self.daemon, Wanted(), midi=None, heard=None)
        self.rolled, self.places = [], []
        self.daemon.taps.add(self._tap)

    def _tap(self, arrival):
        message = arrival.recorded.osc
        if message is not None and message.address == "/rig/rolling":
            if self.rolled[-1:] != [message.args[0]]:
                self.rolled.append(message.args[0])
        elif message is not None and message.address == "/rig/where":
            self.places.append(message.args[0])
        self._changed.set()

    def shown(self):
        return [position[0] for position in self.sent("position")]


def test_the_host_is_started_moved_and_stopped_with_the_show(tmp_path):
    async def go():
        async with LedRig(tmp_path) as rig:
            rig.tell_host("/rig/goto", "f", 77.0)
            rig.daemon.begin(after=0.2, count_in=1)
            await rig.until_section("Crossing")
            rig.order("skip")
            await rig.until(lambda: rig.told("end"), "the end")
            await rig.until(lambda: rig.rolled[-1:] == [0] and 1 in rig.rolled, "the host stops")
            return rig

    rig = asyncio.run(go())
    started = rig.rolled.index(1)
    assert rig.rolled[started:] == [1, 0]
    # from bar 1 on, 16 quarters of Prelude, 24 of Crossing, then over: Landfall was left out
    assert max(place for place in rig.places if place < 77) == pytest.approx(40, abs=4)
    assert max(rig.shown()) == 40.0


def test_held_the_host_and_the_place_go_back_together(tmp_path):
    async def go():
        async with LedRig(tmp_path) as rig:
            rig.daemon.begin(after=0.2, count_in=0)
            rig.order("hold")
            await rig.until(lambda: rig.told("hold"), "held")
            await rig.until(lambda: rig.shown().count(8.0) >= 3, "two loops")
            rig.order("release")
            await rig.until_section("Crossing")
            await rig.until(lambda: rig.shown()[-1:] > [17.0], "Crossing goes on")
            return rig

    rig = asyncio.run(go())
    shown = [place for place, _, _, plays in rig.sent("position") if plays]
    # Prelude's four bars, then its last two (the band's cycle) again and again; each sixteenth once a turn
    jumps = [(a, b) for a, b in pairwise(shown) if b != a + 0.25]
    assert set(jumps) == {(15.75, 8.0)}
    assert rig.daemon.conductor.dropped == 0


def test_stopped_by_hand_the_place_stands_and_the_host_too(tmp_path):
    async def go():
        async with LedRig(tmp_path) as rig:
            rig.daemon.begin(after=0.2, count_in=0)
            await rig.until(lambda: len(rig.shown()) > 8 and 1 in rig.rolled, "it plays")
            rig.daemon.stop()
            await asyncio.wait_for(rig._running, 30)
            return rig.sent("position"), rig.told("asked")

    positions, asked = asyncio.run(go())
    assert positions[-1][3] == 0
    assert "stop" in str(asked[-1])
