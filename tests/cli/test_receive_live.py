"""What ``receive`` promises on real sockets and ports, as a program of its own."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

from bridge.cli.main import main
from bridge.cli.receive_live import Live
from bridge.cli.receive_view import picture, transport_line
from bridge.cli.receiving import Receiver
from bridge.follow import Source, Transport
from bridge.hostmap import Address, Message
from bridge.live.inputs import Arrival
from bridge.osc import Port
from bridge.store import shipped
from bridge.store.recording import Recorded
from tests.midi.server import needed, serving

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C cannot be sent there by kill")

INPUTS = [
    Message("/rig/speed", "f", (90.0,)),
    Message("/rig/rolling", "i", (1,)),
    *(Message("/rig/where", "f", (8.0 + n / 8,)) for n in range(30)),
]


@pytest.fixture
def rig(tmp_path) -> Path:
    """A host map of the practice rig with a free port."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        free = probe.getsockname()[1]
    text = shipped("examples/hosts/practice-rig.yaml").read_text()
    path = tmp_path / "rig.yaml"
    path.write_text(re.sub(r"(?m)^receive_on: \S+", f"receive_on: 127.0.0.1:{free}", text))
    return path


def place_of(rig: Path) -> tuple[str, int]:
    host, port = re.search(r"receive_on: (\S+):(\d+)", rig.read_text()).groups()
    return host, int(port)


@contextlib.contextmanager
def receiving(*words: str):
    """Run ``receive``, wait until it listens, and end it whatever happens."""
    done = [sys.executable, "-m", "bridge", "receive", *words]
    pipe = subprocess.PIPE
    process = subprocess.Popen(done, stdout=pipe, stderr=pipe, text=True, env={**os.environ})
    try:
        said = process.stderr.readline()
        assert "listening" in said, said + process.stderr.read()
        yield process
    finally:
        process.kill()
        process.communicate()


def send(place: tuple[str, int], messages=INPUTS, packets=()):
    with Port(Address("127.0.0.1", 0)) as port:
        for message in messages:
            port.send(message, place)
        for packet in packets:
            port.send_packet(packet, place)


def lines_of(process, count: int) -> list[dict]:
    return [json.loads(process.stdout.readline()) for _ in range(count)]


def test_each_input_gives_one_line_at_once_and_ctrl_c_ends_it_with_130(rig):
    with receiving("--host", str(rig), "--json") as process:
        send(place_of(rig))
        lines = lines_of(process, len(INPUTS))
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=10)
        assert (process.returncode, out, err) == (130, "", "")
    assert list(lines[0]) == ["at", "playing", "quarters", "bpm", "source", "locked"]
    assert [line["at"] for line in lines] == sorted(line["at"] for line in lines)
    assert (lines[-1]["playing"], lines[-1]["bpm"], lines[-1]["source"]) == (True, 90.0, "osc")


def test_a_recording_of_it_replays_to_the_same_lines(rig, tmp_path, capsys):
    record = tmp_path / "r.jsonl"
    with receiving("--host", str(rig), "--record", str(record)) as process:
        send(place_of(rig), packets=[b"junk", b"", b"/x\x00\x00,Q\x00\x00"])
        live = lines_of(process, len(INPUTS) + 3)
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=10)
        assert process.returncode == 130
    assert main(["receive", "--replay", str(record), "--host", str(rig), "--json"]) == 0
    assert [json.loads(line) for line in capsys.readouterr().out.splitlines()] == live
    recorded = [json.loads(line) for line in record.read_text().splitlines()]
    assert recorded[0] == {"pulsebridge_recording": 1}
    assert recorded[1]["osc"] == ["/rig/speed", "f", 90.0]
    assert [line.get("raw") for line in recorded[-3:]] == ["6A756E6B", "", "2F7800002C510000"]


def test_what_was_dropped_is_said_at_the_end(rig):
    with receiving("--host", str(rig)) as process:
        send(place_of(rig), packets=[b"junk", b"/x\x00\x00,Q\x00\x00"])
        lines_of(process, len(INPUTS) + 2)
        process.send_signal(signal.SIGTERM)
        _, err = process.communicate(timeout=10)
        assert process.returncode == 0
    assert "32 OSC, 2 unreadable" in err
    assert "1 no OSC at all" in err
    assert "1 discarded for an unknown type tag" in err


def test_a_killed_process_leaves_a_readable_recording(rig, tmp_path, capsys):
    record = tmp_path / "r.jsonl"
    with receiving("--host", str(rig), "--record", str(record), "--json") as process:
        send(place_of(rig))
        lines_of(process, len(INPUTS))
        process.kill()
        process.wait(timeout=10)
    assert main(["receive", "--replay", str(record), "--host", str(rig), "--json"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == len(INPUTS)


def test_it_ends_after_the_time_asked_for(rig):
    with receiving("--host", str(rig), "--for", "200ms", "--json") as process:
        assert process.wait(timeout=10) == 0


def test_a_reader_that_goes_away_ends_it_quietly(rig):
    with receiving("--host", str(rig), "--json") as process:
        process.stdout.close()
        send(place_of(rig))
        assert (process.wait(timeout=10), process.stderr.read()) == (0, "")


def test_a_port_that_another_program_holds_is_exit_3_naming_it(rig, capsys):
    with Port(Address(*place_of(rig))):
        assert main(["receive", "--host", str(rig), "--json"]) == 3
    answer = capsys.readouterr()
    assert json.loads(answer.out)["error"]["kind"] == "device"
    assert "cannot be opened" in answer.err


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--replay", "r.jsonl", "--midi", "x"],
        ["--replay", "r.jsonl", "--record", "y"],
        ["--virtual"],
        ["--midi", "x", "--virtual", "--jack"],
        ["--midi", "x", "--for", "soon"],
        ["--host", "no such map.yaml"],
    ],
)
def test_what_does_not_go_together_is_bad_usage(words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["receive", *words]) == 2
    assert capsys.readouterr().out == ""


def test_a_recording_that_is_there_already_is_kept(rig, tmp_path):
    record = tmp_path / "r.jsonl"
    record.write_text("mine\n")
    assert main(["receive", "--host", str(rig), "--record", str(record)]) == 2
    assert record.read_text() == "mine\n"


@pytest.mark.parametrize("how", ["--virtual", "--jack"])
def test_midi_and_osc_come_in_on_one_loop(rig, how):
    with serving():
        rtmidi = needed("rtmidi")
        out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "tide")
        if how == "--jack":
            out.open_virtual_port("clock")
        name = "relay" if how == "--virtual" else "tide:clock"
        with receiving("--midi", name, how, "--host", str(rig), "--json") as process:
            assert name in process.stderr.readline()
            if how == "--virtual":
                (theirs,) = (port for port in out.get_ports() if port.endswith(":relay"))
                out.open_port(out.get_ports().index(theirs))
            send(place_of(rig), [Message("/a")])
            assert lines_of(process, 1)[0]["source"] is None
            for _ in range(40):
                out.send_message([0xF2, 8, 0])
                time.sleep(0.02)  # as a sender would: JACK connects with a later period
            lines = lines_of(process, 5)
            process.send_signal(signal.SIGINT)
            process.communicate(timeout=10)
            assert process.returncode == 130
        out.delete()
    assert (lines[-1]["source"], lines[-1]["quarters"]) == ("clock", 2.0)


def view_of(inputs, now=1.0, width=80) -> str:
    live = Live(Receiver(None), None, quiet=False)
    for sender, recorded in inputs:
        live.receiver.take(recorded)
        live.traffic.take(Arrival(recorded=recorded, sender=sender, packet=b""))
    live.losses = ["3 no OSC at all"]
    out = StringIO()
    Console(file=out, width=width, markup=False).print(picture(live, now, ["clock started"]))
    return out.getvalue()


def test_the_view_shows_who_sends_what_and_the_transport_within_80_columns():
    text = view_of(
        [("MIDI", Recorded(at=0.0, midi=b"\xfa"))]
        + [("MIDI", Recorded(at=n / 48, midi=b"\xf8")) for n in range(49)]
        + [("127.0.0.1:9001", Recorded(at=1.0, osc=Message("/rig/\x1b[31m/[red]where", "f", (1.5,))))]
    )
    assert max(map(len, text.splitlines())) <= 80
    assert "127.0.0.1:9001" in text
    assert "\x1b" not in text
    assert "[red]where" in text
    assert re.search(r"clock +49 +48\.0 +0\.00 ms +F8", text)
    assert "playing, at quarter 2.00, 120.00 bpm, by clock" in text
    assert "3 no OSC at all" in text
    assert "clock started" in text


def test_the_transport_in_plain_ascii():
    state = Transport(
        at=1.0, playing=True, quarters=2.0, bpm=90.0, source=Source.CLOCK, locked=True, error_ms=0.4
    )
    assert (
        transport_line(state, plain=True)
        == "> playing, at quarter 2.00, 90.00 bpm, by clock, locked +-0.4 ms"
    )
    assert transport_line(Transport(at=0.0), plain=True) == "no transport yet"
