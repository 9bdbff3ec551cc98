"""Going through a running bridge: what the host says comes through, what is sent leaves its port."""

from __future__ import annotations

import asyncio
import time

import pytest

from bridge.cli.laying import Job, lay_song
from bridge.errors import DeviceError, PeerError
from bridge.hostmap import Message
from bridge.live.borrowed import BorrowedPort, open_port
from bridge.live.inputs import Inputs
from bridge.osc import Port
from tests.live.rig import Rig


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    folder = tmp_path / "state"
    folder.mkdir()
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(folder))


def test_lay_goes_through_the_bridge_that_holds_the_port(tmp_path):
    notes: list[str] = []

    async def go():
        async with Rig(tmp_path) as rig:
            job = Job(song=rig.song, host=rig.settings.host, record=tmp_path / "laid.json")
            laid = await asyncio.to_thread(lambda: lay_song(job, tell=notes.append))
            rig.roll()
            await rig.until(lambda: len(rig.nows()) > 3)
            return laid.result, rig

    result, rig = asyncio.run(go())
    assert (result.verified, result.failed) == (len(rig.song.markers), ())
    assert sorted(note.name for note in rig.host.notes) == ["Crossing", "End", "Landfall", "Prelude"]
    assert any("going through the bridge that does follow 'Low Tide Relay'" in note for note in notes)


def test_receive_hears_the_host_through_the_bridge(tmp_path):
    warnings = []

    async def receive(rig):
        came = asyncio.Queue()
        host, deliver = rig.settings.host, came.put_nowait
        async with Inputs(host=host, midi=None, deliver=deliver, warn=warnings.append, borrow=True):
            rig.roll()
            while True:
                arrival = await asyncio.wait_for(came.get(), 30)
                if arrival.recorded.osc.address == "/rig/where":
                    return arrival

    async def go():
        async with Rig(tmp_path) as rig:
            return await asyncio.to_thread(lambda: asyncio.run(receive(rig))), rig

    arrival, rig = asyncio.run(go())
    assert arrival.sender == f"127.0.0.1:{rig.host_port}"
    assert len(warnings) == 1


def test_packets_come_through_whole_and_leave_from_the_bridges_port(tmp_path):
    async def go():
        async with Rig(tmp_path) as rig:
            return await asyncio.to_thread(converse, rig)

    def converse(rig):
        with open_port(rig.settings.host.receive_on) as port:
            assert isinstance(port, BorrowedPort)
            assert port.place == rig.daemon.inputs.port.place
            port.send(Message("/rig/note/put", "fs", (1.5, "Ebb")), ("127.0.0.1", rig.host_port))
            port.send(Message("/rig/note/all"), ("127.0.0.1", rig.host_port))
            found, until = [], time.monotonic() + 20
            while not any(m.address == "/rig/notes/end" for m in found) and time.monotonic() < until:
                for arrived in port.receive(0.2):
                    assert arrived.sender == ("127.0.0.1", rig.host_port)
                    found += arrived.messages
            return found

    found = asyncio.run(go())
    assert ("Ebb",) in [message.args[2:] for message in found if message.address == "/rig/note"]


def test_a_bridge_that_ends_is_noticed(tmp_path):
    async def go():
        async with Rig(tmp_path) as rig:
            port = await asyncio.to_thread(lambda: open_port(rig.settings.host.receive_on))
        with port, pytest.raises(PeerError, match="has gone"):
            await asyncio.to_thread(lambda: [port.receive(0.2) for _ in range(100)])

    asyncio.run(go())


def test_a_port_that_another_program_has_is_refused_as_ever(tmp_path):
    with Port(free := _any()) as taken:
        held = type(free)(*taken.place)
        with pytest.raises(DeviceError, match="cannot be opened"):
            open_port(held)


def _any():
    from bridge.hostmap import Address

    return Address("127.0.0.1", 0)


def test_a_bridge_without_a_host_lends_nothing(tmp_path, monkeypatch):
    from bridge.live.asking import the_bridge

    async def go():
        async with Rig(tmp_path) as rig:
            rig.daemon.inputs.port, kept = None, rig.daemon.inputs.port
            try:
                with pytest.raises(PeerError, match="listens to no host"):
                    await asyncio.to_thread(lambda: BorrowedPort(the_bridge()))
            finally:
                rig.daemon.inputs.port = kept

    asyncio.run(go())
