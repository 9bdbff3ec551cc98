"""The clock of ``lead`` at a JACK receiver that stamps frames: jitter, lost ticks, drift.

    python tests/bench/bench_lead.py [--seconds 60] [--even]

A JACK server of its own with the dummy driver; the show is a subprocess, as it is on stage.
Three senders one after another: ``lead`` through a thread of its own and the system's MIDI
driver, ``lead --jack`` at JACK's frames, and beside them the peer: the same ticks by a loop
on plain ``asyncio.sleep`` through the same driver.  What the driver's callback adds is
period/sqrt(12).  The residual of a tick is its arrival less its place in the tempo map,
with the one constant between the clocks taken out.  A busy machine starves the server, which
then loses whole periods with all that was in them; ``--even`` has it wait for its clients
(with 1024 frames), so that what is measured is the sender.  ``follower`` is our own
estimate of the jitter, from second differences; ``ppm`` the drift; ``sent p99`` how late the
sender itself was, by its own account (``--jack``: how late a message was handed over).
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from bridge.exact import Length
from bridge.follow import Follower
from bridge.live.traffic import Stream
from bridge.midi.jack import JackIn
from bridge.plan import load
from bridge.song import unroll
from tests.midi.server import RATE, needed, serving

TICK = Length(Fraction(1, 96))
HEAD = """
pulsebridge: 1
title: Low Tide Relay
tempo: 127.3
meter: 4/4
layers:
  band: {cycle: 4 bars}
sections:
"""


def plan_text(seconds: float) -> str:
    bars = max(4, round(seconds * 127.3 / 240 / 4) * 4)
    ramp = "tempo: {from: 127.3, to: 141}"
    return HEAD + (
        f"  - {{name: Prelude, layers: [band], bars: {bars // 2}, resolve: []}}\n"
        f"  - {{name: Landfall, layers: [band], bars: {bars}, {ramp}, resolve: []}}\n"
    )


def song_of(text: str):
    plan = load(text)
    return unroll(plan, [section.bars for section in plan.sections])


def tick_seconds(song, until: float) -> list[float]:
    """Return the seconds of each tick from bar 1 on, up to ``until``."""
    found, number = [], 0
    while not found or found[-1] < until:
        found.append(float(song.seconds(song.sections[0].start + TICK * number)))
        number += 1
    return found


class Ear:
    """What a receiver with JACK's own times got from the Start on."""

    def __init__(self) -> None:
        self.times: list[float] = []
        self.follower = Follower()
        self.stream = Stream("MIDI", "clock")
        self.jitters: list[float] = []
        self.sent_late = float("nan")
        """Seconds that 99 % of the messages were not later than, by the sender's own account."""

    def take(self, at: float, data: bytes) -> None:
        if data == b"\xf8":
            self.times.append(at)
            self.stream.times.append(at)
            if len(self.times) % 97 == 0 and (jitter := self.stream.jitter()) is not None:
                self.jitters.append(jitter)
        if data[0] in (0xF2, 0xF8, 0xFA, 0xFB, 0xFC):
            self.follower.midi(at, data)


def listen(name: str, ear: Ear) -> JackIn:
    for _ in range(200):
        try:
            return JackIn(name, take=ear.take).__enter__()
        except Exception:  # noqa: BLE001  until it is there
            time.sleep(0.05)
    raise SystemExit(f"{name} did not appear")


def lead(seconds: float, *words: str) -> tuple[Ear, float]:
    """Lead for so long; what was heard, and the CPU share of the process that led."""
    ear, folder = Ear(), Path(tempfile.mkdtemp())
    (folder / "tide.yaml").write_text(plan_text(seconds), encoding="utf-8")
    command = [sys.executable, "-m", "bridge", "lead", str(folder / "tide.yaml"), "--midi-to", "clock"]
    command += ["--virtual", "--listen", "off", "--json", "--wait", *words]
    environment = {**os.environ, "PULSEBRIDGE_STATE": str(folder)}
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
    for line in process.stdout:
        if json.loads(line)["event"] == "ready":
            break
    name = "pulsebridge:clock"
    port = listen(name, ear)
    ask = [sys.executable, "-m", "bridge", "press", "release"]
    subprocess.run(ask, env=environment, check=True, stdout=subprocess.DEVNULL)
    began, used = time.monotonic(), cpu_of(process.pid)
    time.sleep(seconds)
    share = (cpu_of(process.pid) - used) / (time.monotonic() - began)
    process.terminate()
    said = [json.loads(line) for line in process.communicate()[0].splitlines()]
    ear.sent_late = next(event["late_p99"] for event in said if event["event"] == "clock")
    port.__exit__(None, None, None)
    return ear, share


def peer(seconds: float) -> tuple[Ear, float]:
    """Send the same ticks by plain asyncio, each slept for until its time."""
    ear = Ear()
    code = f"""
import asyncio, sys, time
sys.path.insert(0, {str(Path(__file__).parents[2])!r})
import rtmidi
from tests.bench.bench_lead import plan_text, song_of, tick_seconds
ticks = tick_seconds(song_of(plan_text({seconds})), {seconds})
out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "peer")
out.open_virtual_port("clock")
print("ready", flush=True)
sys.stdin.readline()
async def main():
    start = time.monotonic() + 0.5
    out.send_message([0xFA])
    late = []
    for at in ticks:
        await asyncio.sleep(max(0.0, start + at - time.monotonic()))
        late.append(time.monotonic() - start - at)
        out.send_message([0xF8])
    print(sorted(late)[int(0.99 * len(late))])
asyncio.run(main())
"""
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    process.stdout.readline()
    port = listen("peer:clock", ear)
    process.stdin.write("go\n")
    process.stdin.flush()
    used, began = cpu_of(process.pid), time.monotonic()
    time.sleep(seconds)
    share = (cpu_of(process.pid) - used) / (time.monotonic() - began)
    ear.sent_late = float(process.communicate(timeout=10)[0])
    port.__exit__(None, None, None)
    return ear, share


def cpu_of(pid: int) -> float:
    words = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def residuals(times: list[float], ticks: list[float], counted_in: int) -> list[float]:
    """Arrivals less the tempo map, the constant taken out; a tick that was lost moves none after it."""
    times = times[counted_in:]
    offset = statistics.median(at - tick for at, tick in zip(times[:96], ticks, strict=False))
    found, number = [], 0
    for at in times:
        while number + 1 < len(ticks) and abs(at - offset - ticks[number + 1]) < abs(
            at - offset - ticks[number]
        ):
            number += 1
        found.append(at - offset - ticks[number])
    middle = statistics.median(found)
    return [one - middle for one in found]


def slope(found: list[float], times: list[float]) -> float:
    """Seconds a second by which the residuals drift: the median of late ones less that of early ones."""
    half = len(found) // 4
    late, early = statistics.median(found[-half:]), statistics.median(found[:half])
    return (late - early) / (statistics.median(times[-half:]) - statistics.median(times[:half]))


def report(name: str, ear: Ear, share: float, ticks: list[float], counted_in: int) -> dict[str, float]:
    found = residuals(ear.times, ticks, counted_in)
    span = ear.times[-1] - ear.times[counted_in]
    due = sum(tick <= span + 1e-3 for tick in ticks)
    size = sorted(map(abs, found))
    figures = {
        "rms": statistics.pstdev(found) * 1000,
        "p50": size[len(size) // 2] * 1000,
        "p99": size[int(0.99 * len(size))] * 1000,
        "worst": size[-1] * 1000,
        "ours": statistics.median(ear.jitters) * 1000 if ear.jitters else float("nan"),
        "ppm": slope(found, ear.times[counted_in:]) * 1e6,
        "lost": due - len(found),
        "cpu": share * 100,
        "sent late": ear.sent_late * 1000,
    }
    decimals = {"ppm": 2, "lost": 0, "cpu": 1}
    print(f"{name:<26}" + "".join(f"{one:>9.{decimals.get(key, 3)}f}" for key, one in figures.items()))
    return figures


def an_hour() -> None:
    """Compute an hour of ticks, and how far the last is from the tempo map."""
    from bridge.show.effect import SendMidi
    from bridge.show.leading import Leading, Leg, Wanted

    song = song_of(plan_text(3600))
    leading = Leading(Wanted(position=False))
    began = Fraction(1000)
    leading.play(Leg(song=song, index=0, began=began, leaves=song.sections[0].length, follows=1))
    started, last, count, now = time.perf_counter(), 0.0, 0, 1000.0
    while leading.wake_at is not None:
        now += 10.0
        for effect in leading.wake(now):
            if isinstance(effect, SendMidi) and effect.data == b"\xf8":
                last, count = effect.due, count + 1
    took = time.perf_counter() - started
    exact = began + song.seconds(song.sections[0].start + TICK * (count - 1))
    minutes = float(song.total_seconds) / 60
    off, a_tick = abs(float(Fraction(last) - exact)), took / count
    print(f"\n{minutes:.0f} minutes, {count:,} ticks: the last is {off:.1e} s off;")
    print(f"{a_tick * 1e6:.0f} us a tick, {took / float(song.total_seconds) * 100:.2f} % of a core")


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--seconds", type=float, default=60.0)
    words.add_argument("--even", action="store_true", help="a server that waits for its clients")
    asked = words.parse_args()
    seconds = asked.seconds
    needed("rtmidi")
    ticks = tick_seconds(song_of(plan_text(seconds)), seconds + 5)
    with serving(even=asked.even) as server:
        adds = server.period / RATE / 12**0.5 * 1000
        print(f"{seconds:.0f} s each; ms; the driver's callback alone adds {adds:.3f} rms\n")
        heads = ("rms", "p50", "p99", "worst", "follower", "ppm", "lost", "CPU %", "sent p99")
        print(" " * 26 + "".join(f"{head:>9}" for head in heads))
        plain = report("peer: asyncio.sleep", *peer(seconds), ticks, 0)
        ours = report("lead, a thread of its own", *lead(seconds), ticks, 96)
        framed = report("lead --jack", *lead(seconds, "--jack"), ticks, 96)
    thread, frames = ours["p50"] / plain["p50"], framed["p50"] / plain["p50"]
    print(f"\nover the peer's median: thread {thread:.2f}, frames {frames:.4f}")
    an_hour()


if __name__ == "__main__":
    main()
