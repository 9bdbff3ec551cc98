"""What ``receive --measure-delay`` promises, by taps and by loops, on real sockets and ports."""

from __future__ import annotations

import contextlib
import json
import re
import socket
import statistics
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from bridge.cli.main import main
from bridge.cli.measuring import _loop_record, _tap_record, _words
from bridge.cli.solving import solved_song
from bridge.follow import Source, Transport
from bridge.follow.delay import Taps
from bridge.hostmap import Address, Message
from bridge.live.loopback import Looped
from bridge.osc import Port
from bridge.practice import PracticeHost, SongTimeline
from bridge.practice.weather import Weather
from bridge.store import shipped
from tests.midi.server import needed, serving

KEYS = ["measured", "delays", "taps", "unused", "ahead_ms", "sent", "round_trip_ms", "share"]
ROW = ["source", "delay_ms", "error_ms", "spread_ms", "beat_ms", "count", "why"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--measure-delay", "ear"], "'tap' or 'loop', not 'ear'"),
        (["--tap-on", "pad"], "--tap-on needs --measure-delay tap"),
        (["--loop-to", "rig"], "--loop-to needs --measure-delay loop"),
        (["--times", "9"], "--times needs --measure-delay tap or loop"),
        (["--measure-delay", "tap", "--loop-share", "half"], "--loop-share needs --measure-delay loop"),
        (["--measure-delay", "loop", "--loop-share", "third"], "'half' or 'whole'"),
        (["--measure-delay", "tap", "--delay", "clock=1"], "--measure-delay and --delay do not go together"),
        (["--measure-delay", "tap", "--replay", "x.jsonl"], "--measure-delay and --replay"),
        (["--measure-delay", "loop"], "a MIDI loop needs both ports"),
        (["--measure-delay", "loop", "--for", "9s"], "--measure-delay loop and --for"),
        (["--measure-delay", "loop", "--loop-to", "x", "--host", "m"], "--measure-delay loop and --host"),
        (["--measure-delay", "tap", "--times", "7"], "greater than or equal to 8"),
    ],
)
def test_options_that_do_not_go_together_are_bad_usage(capsys, words, said):
    assert main(["receive", "--midi", "rig", *words]) == 2
    answer = capsys.readouterr()
    assert said in answer.err
    assert answer.out == ""


def tapped(delay_ms, *, beat=0.5, count=10):
    taps = Taps()
    for n in range(count):
        place = n - delay_ms / 1000 / beat
        state = Transport(at=0, playing=True, quarters=place, bpm=60 / beat, source=Source.CLOCK, locked=True)
        taps.take(n * beat, [state])
    return taps


def test_taps_are_told_in_words_and_as_one_object():
    record, rows = _tap_record(tapped(12.5))
    assert list(record) == KEYS
    assert list(rows[0]) == ROW
    assert (record["sent"], record["round_trip_ms"], record["share"], rows[0]["why"]) == (None,) * 4
    assert rows[0]["delay_ms"] == pytest.approx(12.5)
    text = "\n".join(_words(record))
    assert "clock: 12.5" in text
    assert "--delay clock=12.5" in text
    assert "20 to 80 ms ahead" in text
    assert all(len(line) <= 80 for line in _words(record))


def test_a_delay_near_half_a_beat_names_the_other_one():
    record, _ = _tap_record(tapped(200))
    assert "(or -300.0: a tap cannot tell whole beats)" in _words(record)[0]


def test_what_cannot_be_told_says_why():
    record, rows = _tap_record(tapped(0, count=3))
    assert rows[0]["delay_ms"] is None
    assert _words(record) == ["clock: not measured: 3 taps are too few: at least 8 are needed"]
    assert "no source was playing" in _words(_tap_record(Taps())[0])[0]


def test_a_loop_tells_both_kinds_of_midi_and_the_way_there_and_back():
    record, rows = _loop_record(
        Looped(sent=20, seconds=(0.004,) * 19), (Source.CLOCK, Source.TIMECODE), "half"
    )
    assert [row["source"] for row in rows] == ["clock", "timecode"]
    assert [row["delay_ms"] for row in rows] == [2.0, 2.0]
    assert (record["sent"], record["round_trip_ms"], record["share"], record["taps"]) == (
        20,
        4.0,
        "half",
        None,
    )
    assert "half of a round trip of 4.00 ms; 19 of 20 came back" in "\n".join(_words(record))


@pytest.fixture
def rig(tmp_path):
    """A host map of the practice rig on free ports, and the two ports: the host's, ours."""
    with contextlib.ExitStack() as stack:
        probes = [stack.enter_context(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) for _ in range(2)]
        for probe in probes:
            probe.bind(("127.0.0.1", 0))
        theirs, ours = (probe.getsockname()[1] for probe in probes)
    text = shipped("examples/hosts/practice-rig.yaml").read_text()
    text = re.sub(r"(?m)^send_to: \S+", f"send_to: 127.0.0.1:{theirs}", text)
    path = tmp_path / "rig.yaml"
    path.write_text(re.sub(r"(?m)^receive_on: \S+", f"receive_on: 127.0.0.1:{ours}", text))
    return path, Address("127.0.0.1", theirs), Address("127.0.0.1", ours)


def test_a_host_that_is_asked_over_osc_is_as_late_as_its_network(rig, capsys):
    path, theirs, ours = rig
    song, _ = solved_song(shipped("examples/low-tide-relay.yaml"))
    words = ["receive", "--host", str(path), "--measure-delay", "loop", "--times", "8", "--json"]
    for _ in range(3):
        with PracticeHost(
            SongTimeline(song),
            listen_on=theirs,
            send_to=ours,
            weather=Weather(delay=0.02),
            notes=[(1.0, "x")],
        ):
            code = main([*words, "--loop-share", "whole"])
        record = json.loads(capsys.readouterr().out)
        if code == 0:
            break
    (row,) = record["delays"]
    assert (code, row["source"], record["share"]) == (0, "osc", "whole")
    assert 40 <= row["delay_ms"] == record["round_trip_ms"] < 100


def test_nobody_there_is_exit_3_and_says_so(rig, capsys, monkeypatch):
    path, _, _ = rig
    monkeypatch.setattr("bridge.live.loopback._PATIENCE", 0.05)
    assert main(["receive", "--host", str(path), "--measure-delay", "loop", "--json"]) == 3
    record = json.loads(capsys.readouterr().out)
    assert [row["why"] for row in record["delays"]] == ["nothing came back"]
    assert record["round_trip_ms"] is None


def test_a_midi_loop_is_measured_through_the_driver(capsys):
    with serving():
        rtmidi = needed("rtmidi")
        back = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "quay out")
        there = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, "quay in")
        back.open_virtual_port("back")
        there.set_callback(lambda event, _: back.send_message(event[0]))
        there.open_virtual_port("there")
        words = [
            "--midi",
            "quay out:back",
            "--loop-to",
            "quay in:there",
            "--measure-delay",
            "loop",
            "--times",
            "12",
        ]
        for _ in range(4):
            code = main(["receive", *words, "--json"])
            record = json.loads(capsys.readouterr().out)
            if code == 0:
                break
        there.delete()
        back.delete()
    assert code == 0, record
    row = record["delays"][0]
    assert 0 < row["delay_ms"] == pytest.approx(record["round_trip_ms"] / 2)


def play_and_tap(clock, pad, ending):
    """Send a clock at 180 bpm, and a note with each beat: note on, and its end as a note on of no force."""
    begun, tick = time.monotonic(), 0
    clock.send_message([0xFA])
    while not ending.wait(max(begun + tick / 72 - time.monotonic(), 0)):
        clock.send_message([0xF8])
        if tick % 24 == 0:
            pad.send_message([0x99, 38, 100])
        if tick % 24 == 6:
            pad.send_message([0x99, 38, 0])
        tick += 1


def test_notes_on_a_port_of_their_own_are_taps(capsys):
    with serving():
        rtmidi = needed("rtmidi")
        clock = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "tide")
        pad = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "pad")
        clock.open_virtual_port("clock")
        pad.open_virtual_port("hits")
        words = ["--midi", "tide:clock", "--tap-on", "pad:hits", "--measure-delay", "tap", "--times", "8"]
        for _ in range(4):
            ending = threading.Event()
            # Later than the ports are opened: what comes before the connection is lost, the Start too.
            player = threading.Timer(1.0, play_and_tap, (clock, pad, ending))
            player.start()
            code = main(["receive", *words, "--for", "8s", "--json"])
            ending.set()
            player.join()
            record = json.loads(capsys.readouterr().out)
            if code == 0 and abs(record["delays"][0]["delay_ms"]) < 15:
                break  # a starved machine may hold either up: then once more
        clock.delete()
        pad.delete()
    assert code == 0, record
    (row,) = record["delays"]
    assert (row["source"], row["count"]) == ("clock", 8)
    assert row["delay_ms"] == pytest.approx(0, abs=15)
    assert row["beat_ms"] == pytest.approx(1000 / 3, rel=0.05)


class Drummer(threading.Thread):
    """A host at 180 bpm that tells its place, and someone who taps each beat 60 ms after it.

    ``late``: how late each tap really was, in seconds, by the host's own count.
    """

    BEAT = 1 / 3

    def __init__(self, to: Path, keys):
        super().__init__(daemon=True)
        self._place = re.search(r"receive_on: (\S+):(\d+)", to.read_text()).groups()
        self._keys, self._ending, self.late = keys, threading.Event(), []

    def run(self):
        begun, tapped_beat = time.monotonic(), 0
        with Port(Address("127.0.0.1", 0)) as port:
            to = (self._place[0], int(self._place[1]))
            port.send(Message("/rig/speed", "f", (180.0,)), to)
            port.send(Message("/rig/rolling", "i", (1,)), to)
            while not self._ending.wait(0.02):  # a host's report every 20 ms
                place = (time.monotonic() - begun) / self.BEAT
                port.send(Message("/rig/where", "f", (place,)), to)
                if place > tapped_beat + 1 + 0.06 / self.BEAT and place > 3:
                    tapped_beat = int(place)
                    self.late.append((place - tapped_beat) * self.BEAT)
                    with contextlib.suppress(OSError):
                        self._keys.write(b"\n")
                        self._keys.flush()

    def end(self):
        self._ending.set()
        self.join()


@pytest.mark.skipif(sys.platform == "win32", reason="stdin of a child there is no keyboard")
def test_taps_of_the_enter_key_tell_how_late_the_host_is(rig):
    path, _, _ = rig
    words = ["--host", str(path), "--measure-delay", "tap", "--times", "8", "--for", "12s", "--json"]
    for _ in range(4):
        pipe = subprocess.PIPE
        with subprocess.Popen(
            [sys.executable, "-m", "bridge", "receive", *words], stdin=pipe, stdout=pipe, stderr=pipe
        ) as process:
            said = [process.stderr.readline().decode() for _ in range(1)]
            assert "tap every quarter note" in said[0]
            drummer = Drummer(path, process.stdin)
            drummer.start()
            out = process.stdout.read()
            drummer.end()
            code = process.wait(timeout=10)
        record = json.loads(out)
        expected = -statistics.median(drummer.late) * 1000
        if code == 0 and abs(record["delays"][0]["delay_ms"] - expected) < 15:
            return  # a starved machine may hold a tap up: then once more
    pytest.fail(f"{record}, expected about {expected}")
