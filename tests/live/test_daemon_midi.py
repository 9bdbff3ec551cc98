"""The running bridge with real MIDI ports: program changes out on their beat, a pedal in."""

from __future__ import annotations

import asyncio
import contextlib
import threading

import pytest

from bridge.live.feet import Feet
from bridge.live.inputs import MidiChoice
from bridge.midi import MidiIn, MidiOut
from bridge.midi.driver import find_inputs
from tests.live.rig import PLAN, Rig
from tests.midi.server import needed, serving

BARS = range(2, 120)
CUES = ", ".join(f"{{at: bar {bar}, send: {{program: {bar}, channel: 3}}}}" for bar in BARS)
"""A starved machine may jump past some of them."""


@pytest.fixture(scope="module", autouse=True)
def server():
    needed("rtmidi")
    with serving() as running:
        yield running


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    folder = tmp_path / "state"
    folder.mkdir()
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(folder))


def test_a_program_change_goes_out_on_its_bar_and_a_pedal_holds(tmp_path):
    long = f"layers: [band], bars: 400, cues: [{CUES}]}}"
    text = PLAN.replace("layers: [band], bars: 40}", long).replace("tempo: 960", "tempo: 300")
    assert CUES in text
    (tmp_path / "tide.yaml").write_text(text, encoding="utf-8")
    heard, came = [], threading.Event()

    def take(_, message):
        heard.append(message)
        came.set()

    async def go():
        rig = Rig(
            tmp_path,
            cues_midi=MidiChoice(name="pulsebridge:synth"),
            foot_midi=MidiChoice(name="pedal", virtual=True),
            feet=Feet.of(["hold=controller 64", "release_now=note 36"]),
        )
        async with rig:
            with MidiOut(next(one.name for one in find_inputs(listens=False) if "pedal" in one.name)) as foot:
                rig.roll(12.0)
                await rig.until_section("Crossing")
                await pressed(rig, foot, b"\xb0\x40\x7f", "hold")
                foot.send(b"\xb0\x40\x00")
                await pressed(rig, foot, b"\x90\x24\x64", "release_now")
            await rig.until(lambda: len(changes(rig)) > 2, "three program changes")
        return rig

    async def pressed(rig, foot, message, event):
        """Press until it is heard: JACK's new connections take effect with a later period."""
        for _ in range(100):
            foot.send(message)
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(rig.until(lambda: rig.told(event), event), 0.5)
            if rig.told(event):
                return
            foot.send(message[:2] + b"\x00")  # let go
        pytest.fail("the pedal was not heard")

    with MidiIn("synth", take=take, virtual=True):
        rig = asyncio.run(go())
        assert came.wait(20)
    sent = changes(rig)
    assert {message.hex(" ").upper() for message in heard} <= sent.keys()
    assert sent.keys() <= {f"C2 {bar - 1:02X}" for bar in BARS}  # both count from 0 on the wire (MIDI 1.0)
    barlines = {f"C2 {bar - 1:02X}": due for bar, due in ones(rig)}
    both = sent.keys() & barlines.keys()
    assert both
    assert all(abs(sent[message] - barlines[message]) < 0.001 for message in both)


def changes(rig):
    """Return when each program change was due."""
    return {record["midi"]: record["due"] for record in rig.told("sent") if "midi" in record}


def ones(rig):
    """Walk through the bars of Landfall whose one was told of, with when it was due."""
    for record in rig.told("sent"):
        if record.get("osc", [""])[0] == "/pulsebridge/now":
            name, bar, _, beat = record["osc"][2:]
            if (name, beat) == ("Landfall", 1.0):
                yield bar, record["due"]
