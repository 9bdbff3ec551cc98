"""``lead`` from the command line: a whole short show, over UDP and a real MIDI path."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from bridge.cli.main import main
from bridge.follow.messages import Continue, SongPosition, Start, Stop, read
from bridge.hostmap import Address, Message
from bridge.midi.jack import JackIn
from bridge.osc import Port
from tests.midi.server import serving

HERE = "127.0.0.1"
PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 600
meter: 4/4
layers:
  band: {cycle: 2 bars, player: guitars}
  hand drum: {cycle: 3/16, player: percussion}
sections:
  - {name: Prelude, layers: [band], bars: 2}
  - {name: Crossing, layers: [band, hand drum], bars: 6}
"""


@pytest.fixture
def plan(tmp_path, monkeypatch):
    state = tmp_path / "state"
    state.mkdir()
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(state))
    path = tmp_path / "tide.yaml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@contextmanager
def leading(*words):
    """Run it; yields the process and a function that reads its events up to one of a kind."""
    command = [sys.executable, "-m", "bridge", "lead", *map(str, words), "--json"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    watchdog = threading.Timer(60, process.kill)
    watchdog.start()
    events = []

    def until(kind):
        for line in process.stdout:
            events.append(json.loads(line))
            if events[-1]["event"] == kind:
                return events
        pytest.fail(f"it ended before {kind!r}: {events[-3:]}")

    try:
        yield process, until
    finally:
        watchdog.cancel()
        if process.poll() is None:
            process.kill()
        process.communicate()


def sent(events, address):
    return [event["osc"][2:] for event in events if event.get("osc", [""])[0] == address]


def test_a_show_without_any_port_for_midi_is_counted_in_played_and_over(plan):
    with Port(Address(HERE, 0)) as ear:
        to = f"{HERE}:{ear.place[1]}"
        with leading(plan, "--cues-to", to, "--listen", "off") as (process, until):
            events = until("end")
            process.send_signal(signal.SIGTERM)
            assert process.wait(20) == 0
    assert [event["section"] for event in events if event["event"] == "section"] == ["Prelude", "Crossing"]
    places = sent(events, "/pulsebridge/position")
    # the standing place while it is counted in, then every sixteenth of 8 bars of 4/4
    assert [place[0] for place in places[:130]] == [0.0, *(0.25 * number for number in range(128))]
    assert [place[3] for place in places[:3]] == [0, 1, 1]
    assert places[9][:3] == pytest.approx([2.0, 0.2, 600.0])
    nows = sent(events, "/pulsebridge/now")
    assert [now[1] for now in nows if now[0] == "Crossing"] == [bar for bar in range(1, 7) for _ in range(4)]


def test_it_waits_for_its_release_and_the_clock_reaches_a_midi_port(plan):
    heard = []
    with serving(), Port(Address(HERE, 0)) as ear:
        words = (
            "--midi-to",
            "clock",
            "--virtual",
            "--jack",
            "--timecode",
            "25",
            "--wait",
            "--at",
            "Crossing",
        )
        listen = ("--listen", f"{HERE}:0", "--cues-to", f"{HERE}:{ear.place[1]}")
        with leading(plan, *words, *listen) as (process, until):
            ready = until("ready")[-1]
            take = lambda at, data: heard.append((at, data))  # noqa: E731
            with JackIn("pulsebridge:clock", take=take):
                host, port = ready["ports"][0].rsplit(":", 1)
                ear.send(Message("/pulsebridge/release"), (host, int(port)))
                until("end")
                process.send_signal(signal.SIGINT)
                assert process.wait(20) == 130
    messages = [read(data) for _, data in heard]
    kinds = [m for m in messages if isinstance(m, Start | Stop | Continue | SongPosition)]
    # a server that is starved loses a period now and then: what came is in order
    assert kinds in (
        [SongPosition(sixteenths=32), Continue(), Stop()],
        [Continue(), Stop()],
        [SongPosition(sixteenths=32), Continue()],
    )
    ticks = [data for _, data in heard].count(b"\xf8")
    assert 3 * 96 < ticks <= 7 * 96
    assert any(data[:1] == b"\xf1" for _, data in heard)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--timecode", "26", "--midi-to", "clock"), "no rate '26'"),
        (("--timecode", "25"), "for a MIDI port"),
        (("--device", "card"), "--device is for what is heard"),
        (("--click", "hand drum"), "--click cannot be"),
        (("--click", "hand drum=99"), "1 to 64, not 99"),
        (("--click", "nobody=3"), "no player or layer 'nobody'"),
        (("--at", "Nowhere"), "Nowhere"),
        (("--at", "End"), "nothing is played from 'End' on"),
        (("--wait", "--count-in", "2"), "do not go together"),
    ],
)
def test_what_makes_no_sense_is_refused_before_anything_is_opened(plan, words, says, capsys, monkeypatch):
    monkeypatch.setattr("bridge.out.sound_card.refuse_missing", lambda: None)
    assert main(["lead", str(plan), *words]) == 2
    assert says in " ".join(capsys.readouterr().err.split())


def test_help_and_start_say_what_cues_are_not_for(plan, capsys):
    main(["lead", "--help"])
    out = " ".join(capsys.readouterr().out.split())
    assert "cues are not for pyrotechnics" in out
    assert "mind your hearing" in out
    with leading(plan, "--listen", "off") as (_, until):
        assert "pyrotechnics" in until("ready")[-1]["caution"]


def test_the_click_is_heard_and_a_player_has_theirs_on_their_own_channel(plan, tmp_path, monkeypatch):
    """A stand-in card in place of sounddevice, in real time, in the process that makes the sound."""
    path = tmp_path / "card.npz"
    monkeypatch.setenv("PULSEBRIDGE_TEST_CARD", str(path))
    paths = [str(Path(__file__).parents[1] / "live" / "card"), os.environ.get("PYTHONPATH", "")]
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, paths)))
    words = (plan, "--sound", "--click", "hand drum=3", "--listen", "off")
    with leading(*words) as (process, until):
        until("end")
        process.send_signal(signal.SIGINT)
        ended = until("sound")[-1]
        assert process.wait(20) == 130
    sound = np.load(path)["sound"]
    assert sound.shape[1] == 3
    assert all(sound[:, channel].any() for channel in range(3))
    assert np.abs(sound.astype(int)).max() <= 2**15 * 10 ** (-12 / 20)
    assert ended["lost"] == 0
    assert ended["late"] < 20  # of over 200: a starved machine may be late now and then
