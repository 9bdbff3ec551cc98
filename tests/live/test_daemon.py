"""The running bridge with the practice host, really over UDP on this machine."""

from __future__ import annotations

import asyncio
import errno
import itertools
import json
from dataclasses import replace

import pytest

from bridge.errors import DeviceError, MusicError, PeerError, UsageError
from bridge.hostmap import Address, Message
from bridge.live.asking import ask, connected, the_bridge
from bridge.osc import encode
from bridge.store.event_log import EventLog
from bridge.store.journal import Journal
from tests.live.rig import BEAT, PLAN, Rig


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    folder = tmp_path / "state"
    folder.mkdir()
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(folder))


def test_every_beat_and_every_cue_arrives_once_and_in_order(tmp_path):
    async def go():
        async with Rig(tmp_path) as rig:
            rig.roll()
            await rig.until_section("Landfall")
            return rig, rig.heard()

    rig, heard = asyncio.run(go())
    sent = [Message.from_record(record["osc"]) for record in rig.told("sent")]
    assert [encode(message) for message in heard] == [encode(message) for message in sent]
    nows = [message.args for message in heard if message.address == "/pulsebridge/now"]
    # hand-made: four bars of Prelude, six of Crossing, four beats each; left counts the bar that is played
    whole = [
        (name, bar, bars - bar + 1, float(beat))
        for name, bars in (("Prelude", 4), ("Crossing", 6), ("Landfall", 40))
        for bar in range(1, bars + 1)
        for beat in range(1, 5)
    ]
    start = whole.index(nows[0])
    assert start < 8  # what was due before the host had said that it plays is not made up for
    assert nows == whole[start : start + len(nows)]
    cues = rig.sent("cue")
    assert len(cues) == len(set(cues))
    assert any(text.startswith("Landfall in ") for text, _, _ in cues)
    assert ("Crossing", 3) in rig.sent("next")
    late = sorted(record["actual"] - record["due"] for record in rig.told("sent"))
    assert late[0] >= -1e-6
    assert late[len(late) // 2] < BEAT / 24  # a starved machine may be late at any time, not at half of them
    logged = [json.loads(line) for line in (tmp_path / "log").read_text(encoding="utf-8").splitlines()]
    assert [one for one in logged if one["event"] == "sent"] == json.loads(json.dumps(rig.told("sent")))


def test_a_lead_sends_early_with_the_time_in_the_bundle(tmp_path):
    async def go():
        async with Rig(tmp_path, ahead=0.2) as rig:
            rig.roll()
            await rig.until(lambda: len(rig.nows()) > 10)
            packets = [packet.data for packet in rig.ear.drain(999)]
            return rig.told("sent"), packets

    sent, packets = asyncio.run(go())
    assert all(packet.startswith(b"#bundle\x00") for packet in packets)
    assert {record["ahead"] for record in sent} == {0.2}
    early = [record["due"] - record["actual"] for record in sent[5:]]
    assert sorted(early)[len(early) // 2] > 0.15


def test_a_hold_goes_on_past_the_end_and_a_release_lands_where_all_are_home(tmp_path):
    async def go():
        async with Rig(tmp_path) as rig:
            rig.roll()
            await rig.until_section("Crossing")
            rig.order("hold")
            await rig.until(lambda: any(name == "Crossing" and bar > 8 for name, bar, _, _ in rig.nows()))
            rig.order("release")
            await rig.until_section("Landfall")
            return rig

    rig = asyncio.run(go())
    crossing = [now for now in rig.nows() if now[0] == "Crossing"]
    bars = [bar for bar, _ in itertools.groupby(now[1] for now in crossing)]
    assert bars == list(range(1, bars[-1] + 1))
    # band 2 bars, drum 3/16 in 4/4: all stand as at the end of bar 6 after every 6 bars (hand arithmetic)
    assert bars[-1] % 6 == 0
    assert bars[-1] > 8
    held = [now for now in crossing if now[2] == -1]
    assert held
    assert crossing[-4:] == [("Crossing", bars[-1], 1, float(beat)) for beat in (1, 2, 3, 4)]
    assert rig.told("asked")  # the host was sent back
    assert {record["deed"] for record in rig.told("asked")} == {"locate"}


def test_a_host_that_cannot_be_sent_back_is_told_of_and_the_show_counts_on(tmp_path):
    async def go():
        async with Rig(tmp_path, without=("locate", "play", "stop")) as rig:
            rig.roll()
            await rig.until_section("Crossing")
            rig.order("hold")
            await rig.until(lambda: any(bar > 7 for name, bar, _, _ in rig.nows() if name == "Crossing"))
            rig.order("release_now")
            await rig.until_section("Landfall")
            return rig

    rig = asyncio.run(go())
    assert rig.told("asked") == []
    assert any("neither loop nor be moved" in record["text"] for record in rig.told("host"))


def test_a_wrong_order_is_refused_and_told_of_once_for_each_machine(tmp_path):
    async def go():
        async with Rig(tmp_path) as rig:
            rig.order("hold", "everything")
            rig.order("stamp")
            rig.order("skip")  # understood, but nothing is played
            await rig.until(lambda: rig.told("refused"))
            return rig

    rig = asyncio.run(go())
    assert rig.daemon.controls.orders.wrong == 2
    assert len(rig.warnings) == 1


def test_a_full_disk_is_told_of_and_the_cues_go_on(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    async def go():
        async with Rig(tmp_path) as rig:
            monkeypatch.setattr(Journal, "_append", full)
            monkeypatch.setattr(EventLog, "_write", full)
            rig.roll()
            await rig.until(lambda: len(rig.warnings) >= 2)
            count = len(rig.nows())
            await rig.until(lambda: len(rig.nows()) > count + 10)
            return rig.warnings, await asking(ask="status")

    warnings, found = asyncio.run(go())
    assert len(warnings) == 2
    assert all("No space left on device" in text for text in warnings)
    assert found["lost"]["journal"] > 0
    assert found["lost"]["log"] > 0


def test_a_second_bridge_on_the_same_songs_is_refused_by_name(tmp_path):
    async def go():
        async with Rig(tmp_path):
            with pytest.raises(PeerError, match=r"follow 'Low Tide Relay' \(process \d+\) is at work here"):
                async with Rig(tmp_path):
                    pass

    asyncio.run(go())


def test_a_second_bridge_on_the_same_port_is_refused(tmp_path):
    (tmp_path / "other").mkdir()

    async def go():
        async with Rig(tmp_path) as first:
            taken = Address(*first.daemon.listens_on)
            holder = f"the port {taken} cannot be opened: the bridge that does follow 'Low Tide Relay'"
            with pytest.raises(DeviceError, match=holder):
                async with Rig(tmp_path / "other", listen=taken):
                    pass

    asyncio.run(go())


async def asking(bridge=None, **question):
    """Ask as another process would."""
    return await asyncio.to_thread(lambda: ask(bridge or the_bridge(), **question))


def test_status_controls_and_stop_come_through_the_control_socket(tmp_path):
    async def go():
        async with Rig(tmp_path) as rig:
            rig.roll()
            await rig.until_section("Crossing")
            bridge = the_bridge()
            held = await asking(bridge, ask="control", words=["hold"])
            found = await asking(bridge, ask="status")
            with pytest.raises(UsageError, match="no control 'stamp'"):
                await asking(bridge, ask="control", words=["stamp"])
            stopping = await asking(bridge, ask="stop")
            await asyncio.wait_for(rig._running, 20)
            return held, found, stopping

    held, found, stopping = asyncio.run(go())
    assert "Crossing is held" in held["text"]
    assert found["show"]["section"] == "Crossing"
    assert found["show"]["held"] is True
    assert found["show"]["ladder"]
    assert found["cues"]["sent"] > 10
    assert json.loads(json.dumps(found)) == found
    assert stopping["stopping"] is True
    with pytest.raises(PeerError, match="no bridge is running"):
        the_bridge()


def test_who_does_not_know_the_token_is_told_nothing(tmp_path):
    async def go():
        async with Rig(tmp_path):
            stranger = replace(the_bridge(), token="guessed")

            def answer():
                with connected(stranger, ask="stop") as (_, file):
                    return file.read()

            said = await asyncio.to_thread(answer)
            return said, await asking(ask="status")

    said, alive = asyncio.run(go())
    assert said == b""
    assert alive["what"] == "follow"


def test_a_saved_plan_is_planned_elsewhere_and_taken_over(tmp_path):
    async def go():
        async with Rig(tmp_path) as rig:
            rig.roll()
            await rig.until_section("Prelude")
            rig.plan.write_text(PLAN.replace("bars: 40", "bars: 20"), encoding="utf-8")
            await rig.until(lambda: rig.told("plan"), "taken over")
            return [placed.bars for placed in rig.daemon.conductor.song.sections]

    assert asyncio.run(go()) == [4, 6, 20]


def test_a_saved_plan_that_cannot_be_satisfied_changes_nothing(tmp_path, monkeypatch):
    async def refuse(*_, **__):
        raise MusicError("the plan cannot be satisfied: Crossing has 5 bars")

    monkeypatch.setattr("bridge.live.new_forms.solved_elsewhere", refuse)

    async def go():
        async with Rig(tmp_path) as rig:
            rig.plan.write_text(PLAN.replace("bars: 6", "bars: 5"), encoding="utf-8")
            await rig.until(lambda: rig.warnings)
            return rig.warnings, [placed.bars for placed in rig.daemon.conductor.song.sections]

    warnings, bars = asyncio.run(go())
    assert warnings == ["the plan stays as it was: the plan cannot be satisfied: Crossing has 5 bars"]
    assert bars == [4, 6, 40]
