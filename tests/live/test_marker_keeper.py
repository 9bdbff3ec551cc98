"""Markers both ways while the bridge runs, really over UDP with the practice host."""

import asyncio
import time

import pytest

from bridge.hostmap import Address, Message
from bridge.live.marker_keeper import MarkerKeeper
from bridge.osc import Port
from tests.live.rig import HERE, ROOT, Rig

PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 480
meter: 4/4
layers:
  band: {cycle: 4 bars, player: guitars}
  hand drum: {cycle: 3/16, player: percussion}
sections:
  - {name: Prelude, layers: [band], bars: 8}
  - name: Crossing
    layers: [band, hand drum]
    length: {about: 24 bars}
  - {name: Landfall, layers: [band], bars: 400}
"""


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    folder = tmp_path / "state"
    folder.mkdir()
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(folder))


def keeper(rig, **told):
    """Keep the rig's markers, with a host map on the disk for the processes that lay."""
    path = rig.folder / "rig.yaml"
    text = (ROOT / "examples/hosts/practice-rig.yaml").read_text(encoding="utf-8")
    host = rig.settings.host
    path.write_text(
        text.replace("127.0.0.1:9001", str(host.send_to)).replace("127.0.0.1:9000", str(host.receive_on)),
        encoding="utf-8",
    )
    return MarkerKeeper(rig.daemon, [rig.plan], host, path, **{"lay": True, "settle": False, **told})


class Elsewhere:
    """Another hand on the host: what it reports when somebody changes something in it."""

    def __init__(self, rig):
        self._port = Port(Address(HERE, 0))
        self._to = (HERE, rig.settings.host.receive_on.port)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._port.close()

    def says(self, address, types, *args):
        self._port.send(Message(address, types, args), self._to)


def made(tmp_path, **told):
    (tmp_path / "tide.yaml").write_text(PLAN, encoding="utf-8")
    rig = Rig(tmp_path)
    keeper(rig, **told)
    return rig


def landfall(rig):
    return next(note for note in rig.host.notes if note.name == "Landfall")


def test_a_drag_is_answered_in_under_two_tenths_of_a_second(tmp_path):
    async def go():
        async with made(tmp_path) as rig:
            await rig.until(lambda: rig.told("laid"), "laid")
            note = landfall(rig)
            times = []
            with Elsewhere(rig) as hand:
                for bar in (29, 30, 27):  # a bar at 480 is half a second
                    before, began = len(rig.told("dragged")), time.monotonic()
                    hand.says("/rig/note", "ifs", note.id, (bar - 1) * 0.5, "Landfall")
                    await rig.until(lambda before=before: len(rig.told("dragged")) > before, "dragged")
                    times.append(time.monotonic() - began)
            return rig, min(times)

    rig, quickest = asyncio.run(go())
    assert quickest < 0.2
    told = rig.told("dragged")[0]
    # Crossing begins in bar 9 and all meet every 12 bars: 20 bars are nearest to 24, then to 12
    assert [(one["bars"], one["host_bar"]) for one in told["choices"]] == [(24, 33), (12, 21)]
    assert told["cut"] == [{"layer": "hand drum", "share": pytest.approx(2 / 3, abs=1e-3)}]
    assert landfall(rig).seconds == pytest.approx(16.0)


def test_a_drag_is_settled_at_the_nearest_place_where_all_come_home(tmp_path):
    async def go():
        async with made(tmp_path, settle=True) as rig:
            await rig.until(lambda: rig.told("laid"), "laid")
            note = landfall(rig)
            with Elsewhere(rig) as hand:
                hand.says("/rig/note", "ifs", note.id, 22 * 0.5, "Landfall")
            await rig.until(lambda: len(rig.told("laid")) > 1, "laid again")
            return rig

    rig = asyncio.run(go())
    assert rig.told("settled")[0]["bars"] == 12
    assert "12" in rig.plan.read_text(encoding="utf-8")
    assert rig.daemon.conductor.song.sections[1].bars == 12
    assert landfall(rig).seconds == pytest.approx((8 + 12) * 0.5)


def test_markers_kept_in_seconds_stay_on_their_bars_when_the_host_changes_its_tempo(tmp_path):
    async def go():
        async with made(tmp_path) as rig:
            await rig.until(lambda: rig.told("laid"), "laid")
            rig.roll()
            await rig.until_section("Prelude")
            with Elsewhere(rig) as hand:
                hand.says("/rig/speed", "f", 600.0)
            await rig.until(lambda: len(rig.told("laid")) > 1, "laid again")
            return rig

    rig = asyncio.run(go())
    assert rig.told("tempo")[0]["ratio"] == pytest.approx(1.25)
    # Landfall stands after 32 bars: at 480 in second 16, at 600 in second 12.8
    assert landfall(rig).seconds == pytest.approx(12.8)
