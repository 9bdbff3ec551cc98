"""``follow`` as a process of its own: killed and started again, interrupted, in the background."""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager

import pytest

from bridge.cli.keys import names_in
from bridge.cli.main import main
from bridge.hostmap import Address, Message
from bridge.osc import Port
from bridge.plan import load
from bridge.practice import PracticeHost, SongTimeline
from bridge.shape import solve
from bridge.song import unroll
from tests.live.rig import HERE, ROOT, free_port

PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 480
meter: 4/4
layers:
  band: {cycle: 2 bars, player: guitars}
  hand drum: {cycle: 3/16, player: percussion}
sections:
  - {name: Prelude, layers: [band], bars: 4}
  - {name: Crossing, layers: [band, hand drum], bars: 6}
  - {name: Landfall, layers: [band], bars: 400}
"""
PATIENCE = 60.0


class Bridge:
    """A ``follow`` that runs, and the JSON lines that it writes."""

    def __init__(self, folder, *options):
        command = [sys.executable, "-m", "bridge", "follow", "tide.yaml", "--host", "rig.yaml", "--json"]
        self.process = subprocess.Popen(
            [*command, *options],
            cwd=folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        self.seen: list[dict] = []
        self._lines: queue.Queue[dict | None] = queue.Queue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        for line in self.process.stdout:
            self._lines.put(json.loads(line))
        self._lines.put(None)

    def until(self, true):
        """Return the first event for which ``true`` holds."""
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            event = self._lines.get(timeout=PATIENCE)
            if event is None:
                break
            self.seen.append(event)
            if true(event):
                return event
        pytest.fail(
            f"it never came: {self.seen[-5:]} {self.process.poll()} {self.process.stderr.read()[-500:]}"
        )

    def until_event(self, name):
        return self.until(lambda event: event["event"] == name)

    def end(self, number):
        self.process.send_signal(number)
        code = self.process.wait(PATIENCE)
        self._reader.join(PATIENCE)
        self.said = self.process.stderr.read()
        self.process.stderr.close()
        self.process.stdout.close()
        return code

    def nows(self):
        went = (event["osc"] for event in self.seen if event["event"] == "sent")
        return [tuple(osc[2:]) for osc in went if osc[0] == "/pulsebridge/now"]

    def cues(self):
        return [event["key"] for event in self.seen if event["event"] == "cue"]


@contextmanager
def stage(tmp_path, monkeypatch):
    """Lay out plan, host map and state folder; run the practice host; give a way to talk to it."""
    state = tmp_path / "state"
    state.mkdir()
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(state))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tide.yaml").write_text(PLAN, encoding="utf-8")
    here, back = free_port(), free_port()
    text = (ROOT / "examples/hosts/practice-rig.yaml").read_text(encoding="utf-8")
    (tmp_path / "rig.yaml").write_text(
        text.replace("127.0.0.1:9001", f"{HERE}:{here}").replace("127.0.0.1:9000", f"{HERE}:{back}"),
        encoding="utf-8",
    )
    plan = load(PLAN.encode(), source="tide.yaml", solved=None)
    song = unroll(plan, solve(plan).bars)
    to, out = Address(HERE, here), Port(Address(HERE, 0))
    with out, PracticeHost(SongTimeline(song), listen_on=to, send_to=Address(HERE, back), rate=50):
        yield lambda address, types="", *args, port=here: out.send(
            Message(address, types, args), (HERE, port)
        )


@pytest.mark.skipif(os.name == "nt", reason="Windows has no kill -9")
def test_killed_in_a_hold_and_started_again_it_goes_on_and_repeats_no_cue(tmp_path, monkeypatch):
    controls = free_port()
    options = ("--listen", f"{HERE}:{controls}", "--cues-to", f"{HERE}:{free_port()}")
    with stage(tmp_path, monkeypatch) as tell:
        first = Bridge(tmp_path, *options)
        first.until_event("ready")
        tell("/rig/roll", "i", 1)
        first.until(lambda event: event.get("section") == "Crossing")
        tell("/pulsebridge/hold", port=controls)
        first.until_event("hold")
        first.until(lambda event: event.get("osc", [""])[:1] == ["/pulsebridge/now"] and event["osc"][3] > 7)
        assert first.end(signal.SIGKILL) == -signal.SIGKILL
        second = Bridge(tmp_path, *options)
        resumed = second.until_event("resumed")
        tell("/pulsebridge/release_now", port=controls)
        second.until(lambda event: event.get("section") == "Landfall")
        assert second.end(signal.SIGTERM) == 0, second.said
    assert "of Crossing" in resumed["text"]
    assert not set(first.cues()) & set(second.cues())
    bars = [now[1] for now in second.nows() if now[0] == "Crossing"]
    assert bars == sorted(bars)
    assert bars[0] > first.nows()[-1][1]
    assert list((tmp_path / "state").glob("running-*.json")) == []


@pytest.mark.skipif(os.name == "nt", reason="Windows ends processes otherwise")
def test_interrupted_it_ends_with_130_and_says_the_caution(tmp_path, monkeypatch):
    with stage(tmp_path, monkeypatch):
        bridge = Bridge(tmp_path, "--listen", "off")
        ready = bridge.until_event("ready")
        assert "pyrotechnics" in ready["caution"]
        assert bridge.end(signal.SIGINT) == 130
    assert list((tmp_path / "state").glob("running-*.json")) == []


def test_in_the_background_it_is_found_pressed_and_stopped(tmp_path, monkeypatch, capsys):
    controls = free_port()
    words = ["follow", "tide.yaml", "--host", "rig.yaml", "--listen", f"{HERE}:{controls}", "--background"]
    monkeypatch.setattr(sys, "argv", ["pulsebridge", *words])
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    with stage(tmp_path, monkeypatch) as tell:
        assert main([*words]) == 0
        assert "runs in the background" in capsys.readouterr().err
        try:
            tell("/rig/roll", "i", 1)
            found = status_until(capsys, lambda found: found["show"]["playing"])
            assert found["show"]["song"] == "Low Tide Relay"
            assert main(["status"]) == 0
            assert "process" in capsys.readouterr().out
            assert main(["press", "hold"]) == 0
            assert "is held" in capsys.readouterr().out
            assert main(["press", "stamp"]) == 2
            capsys.readouterr()
        finally:
            assert main(["stop"]) == 0
    assert "has ended" in capsys.readouterr().err
    assert main(["status"]) == 3
    log = next((tmp_path / "state").glob("bridge-*.log"))
    assert '"event": "hold"' in log.read_text(encoding="utf-8")


def status_until(capsys, true):
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        assert main(["status", "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        if true(found):
            return found
    pytest.fail(f"{found}")


def test_what_cannot_start_in_the_background_says_why(tmp_path, monkeypatch, capsys):
    words = ["follow", "tide.yaml", "--host", "rig.yaml", "--listen", "off", "--background"]
    monkeypatch.setattr(sys, "argv", ["pulsebridge", *words])
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    with stage(tmp_path, monkeypatch):
        (tmp_path / "tide.yaml").write_text(PLAN.replace("bars: 6", "bars: 5"), encoding="utf-8")
        assert main([*words]) == 3
    assert "cannot be satisfied" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (["--cues-to", "9020"], "HOST:PORT"),
        (["--ahead", "3s"], "at most 1s"),
        (["--listen", "9010"], "HOST:PORT"),
        (["--foot", "stamp=key a"], "no control 'stamp'"),
        (["--delay", "osc"], "milliseconds"),
    ],
)
def test_options_are_read_before_anything_is_opened(tmp_path, monkeypatch, capsys, options, why):
    with stage(tmp_path, monkeypatch):
        assert main(["follow", "tide.yaml", "--host", "rig.yaml", *options]) == 2
    assert why in capsys.readouterr().err


def test_the_caution_stands_in_the_help(capsys):
    assert main(["follow", "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "not for pyrotechnics, rigging, moving stage machinery or anything on which safety depends" in said


def test_keys_are_named_as_they_are_written():
    assert names_in(b"hA \r\x1b[5~\x1b[6~\t") == ["h", "A", "Space", "Enter", "PageUp", "PageDown", "Tab"]
    assert names_in("ä".encode()) == ["ä"]
    assert names_in(b"\x01\xff") == []
