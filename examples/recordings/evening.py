"""Write ``evening.jsonl.gz`` and ``evening-truth.jsonl``: an hour in which everything goes wrong.

A host plays for an hour while its clock jitters, loses and doubles ticks, is held up and
let go in bursts, drops out, pauses, steps and ramps; cables are pulled, positions loop and
come late, packets are garbage, time code takes over.  Seeded, so that it always comes out
the same.  The truth says at stated moments where the host really was.  Run it in its own
folder: ``python evening.py``; follow it with::

    pulsebridge receive --replay evening.jsonl.gz --host ../hosts/practice-rig.yaml

Only the standard library is used: the follower is to be held against something that knows
nothing of it.
"""

from __future__ import annotations

import gzip
import json
import random
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

SEED = 20
_CALM = {"sigma": 0.001, "late": 0.01, "lost": 0.001, "doubled": 0.001}


@dataclass
class Evening:
    """The host, its cables, and what arrived; ``now`` is true time, ``tick`` the next clock's index."""

    now: float = 1.0
    tick: int = 0
    bpm: float = 80.0
    lines: list[tuple[float, dict[str, Any]]] = field(default_factory=list)
    truth: list[dict[str, Any]] = field(default_factory=list)
    rng: random.Random = field(default_factory=lambda: random.Random(SEED))  # noqa: S311  weather, no secret

    def midi(self, at: float, data: str) -> None:
        """Let a MIDI message arrive."""
        self.lines.append((at, {"midi": data}))

    def osc(self, at: float, address: str, types: str, *args: object) -> None:
        """Let an OSC message arrive."""
        self.lines.append((at, {"osc": [address, types, *args]}))

    def check(self, what: str, *, playing: bool = True, locked: bool = True, after: float = 0.0) -> None:
        """Note the truth at ``after`` seconds from now, under a message that means nothing."""
        at = round(self.now + after, 3)
        quarters = self.tick / 24 + ((at - self.now) * self.bpm / 60 if playing else 0.0)
        self.lines.append((at, {"midi": "FE"}))
        self.truth.append(
            {"at": at, "what": what, "playing": playing, "locked": locked, "quarters": round(quarters, 4)}
        )

    def play(
        self,
        seconds: float,
        to: float | None = None,
        *,
        clock: bool = True,
        osc: int = 0,
        sigma: float = 0.0,
        late: float = 0.0,
        lost: float = 0.0,
        doubled: float = 0.0,
    ) -> None:
        """Play on, to the tempo ``to`` bit by bit; ``osc``: a position every so many ticks."""
        start, end = self.bpm, to or self.bpm
        until, began = self.now + seconds, self.now
        while self.now < until:
            self.bpm = start + (end - start) * (self.now - began) / seconds
            if clock:
                self._arrive(sigma, late, lost, doubled)
            if osc and self.tick % osc == 0:
                self.osc(self.now + 0.001 + abs(self.rng.gauss(0, 0.0005)), "/rig/where", "d", self.tick / 24)
            self.tick += 1
            self.now += 2.5 / self.bpm
        self.bpm = end

    def _arrive(self, sigma: float, late: float, lost: float, doubled: float) -> None:
        if self.rng.random() < lost:
            return
        at = self.now + self.rng.gauss(0, sigma)
        if self.rng.random() < late:
            at += self.rng.uniform(0.005, 0.03)
        self.midi(at, "F8")
        if self.rng.random() < doubled:
            self.midi(at + 0.0004, "F8")

    def drop_out(self, seconds: float) -> None:
        """Play on unheard."""
        ticks = round(seconds * self.bpm / 2.5)
        self.tick += ticks
        self.now += ticks * 2.5 / self.bpm

    def begin(self) -> None:
        """Start from the beginning with the next clock."""
        self.now += 0.05
        self.tick = 0
        self.midi(self.now - 0.02, "FA")

    def go_on_at(self, sixteenths: int) -> None:
        """Locate, and continue from there with the next clock."""
        self.now += 0.05
        self.tick = sixteenths * 6
        self.midi(self.now - 0.03, f"F2 {sixteenths & 127:02X} {sixteenths >> 7:02X}")
        self.midi(self.now - 0.02, "FB")

    def stop(self) -> None:
        """Stop, and stand for a while."""
        self.now += 0.002
        self.midi(self.now, "FC")
        self.now += 4.0

    def hold_up(self, seconds: float) -> None:
        """Hold all that came in the last ``seconds`` back until now."""
        self.lines = [(max(at, self.now) if at > self.now - seconds else at, what) for at, what in self.lines]

    def garbage(self, count: int) -> None:
        """Let packets come that nobody can read, and messages that mean nothing here."""
        for _ in range(count):
            self.lines.append((self.now, {"raw": self.rng.randbytes(12).hex().upper()}))
            self.osc(self.now, "/somebody/else", "is", self.rng.randrange(100), "?")
            self.midi(self.now, "90 3C 40")


def evening() -> Evening:
    """Play the whole hour."""
    host = Evening()
    _first_take(host)
    _tempi(host)
    _pauses(host)
    _loops(host)
    _cables(host)
    _time_code(host)
    _last_take(host)
    host.lines.sort(key=lambda line: line[0])
    return host


def _first_take(host: Evening) -> None:
    host.play(5, **_CALM)
    host.check("clocks before Start", playing=False, locked=False)
    host.truth[-1]["quarters"] = None
    host.begin()
    for minute in range(9):
        host.play(60, **_CALM)
        host.check(f"minute {minute + 1} of the first take")
        host.drop_out((0.5, 1.0, 1.9)[minute % 3])
        host.play(2.5 / host.bpm / 2, **_CALM)
        host.check(f"the first tick after dropout {minute + 1}", after=0.004 - 2.5 / host.bpm)
        host.garbage(20)
    host.stop()
    host.check("stopped", playing=False, locked=False)


def _tempi(host: Evening) -> None:
    host.go_on_at(128)
    host.play(60, **_CALM)
    host.check("located to quarter 32 and played on")
    for bpm in (100.8, 95.0, 104.0, 84.0, 120.0):
        host.bpm = bpm
        host.play(40, **_CALM)
        host.check(f"40 s after a step to {bpm} bpm")
    host.play(60, 160.0, **_CALM)
    host.check("at the end of a ramp up to 160 bpm")
    host.play(60, 90.0, **_CALM)
    host.check("at the end of a ramp down to 90 bpm")
    host.play(60, sigma=0.001, late=0.02, lost=0.02, doubled=0.01)
    host.check("after a minute with 2 % of the ticks lost and 1 % doubled")
    host.play(120, sigma=0.004, late=0.01, lost=0.001, doubled=0.001)
    host.check("after two minutes with 4 ms of jitter")
    host.stop()


def _pauses(host: Evening) -> None:
    host.bpm = 118.0
    host.begin()
    host.play(60, **_CALM)
    host.hold_up(0.3)
    host.play(10, **_CALM)
    host.check("after ticks held up for 0.3 s and let go at once")
    host.now += 5.0
    host.play(30, **_CALM)
    host.check("after a pause of 5 s without Stop: on from the last tick, not sure", locked=False)
    host.now += 0.02
    host.tick = 96 * 6
    host.midi(host.now - 0.01, "F2 60 00")
    host.play(30, **_CALM)
    host.check("a song position made it sure again")
    host.now += 1.0 + 1.25 / host.bpm
    host.play(30, **_CALM)
    host.check("after a pause of a second, half a tick off the grid", locked=False)
    host.begin()
    host.play(120, **_CALM)
    host.check("started again without Stop")
    host.stop()


def _loops(host: Evening) -> None:
    host.bpm = 104.0
    host.now += 5
    host.osc(host.now, "/rig/speed", "f", 104.0)
    host.tick = 0
    host.osc(host.now, "/rig/where", "d", 0.0)
    host.now += 1
    host.osc(host.now, "/rig/rolling", "i", 1)
    for turn in range(12):
        host.play(32 * 60 / 104 - 0.001, clock=False, osc=3)
        host.check(f"the end of turn {turn + 1} of a loop of eight bars, by OSC alone")
        host.tick = 0
        host.garbage(10)
    host.now += 0.01
    host.osc(host.now, "/rig/rolling", "i", 0)
    host.now += 2


def _cables(host: Evening) -> None:
    host.bpm = 126.0
    host.osc(host.now, "/rig/speed", "f", 126.0)
    host.osc(host.now, "/rig/where", "d", 0.0)
    host.now += 1
    host.begin()
    host.osc(host.now, "/rig/rolling", "i", 1)
    for turn in range(4):
        host.play(60, osc=6, **_CALM)
        host.check(f"clock and OSC together, {turn + 1}")
        host.play(20, clock=False, osc=6)
        host.check(f"20 s after the MIDI cable was pulled, {turn + 1}")
        host.drop_out((-host.tick % 6) * 2.5 / host.bpm)
        host.midi(host.now - 0.01, f"F2 {host.tick // 6 & 127:02X} {host.tick // 6 >> 7:02X}")
        host.play(20, osc=6, **_CALM)
        host.check(f"20 s after it was back, {turn + 1}")
        host.play(20, **_CALM)
        host.check(f"20 s after OSC fell silent, {turn + 1}")
    host.now += 0.01
    host.osc(host.now, "/rig/rolling", "i", 0)
    host.stop()


def _time_code(host: Evening) -> None:
    host.bpm = 120.0
    host.osc(host.now, "/rig/speed", "f", 120.0)
    host.now += 5
    start = host.now
    for number in range(0, 100 * 90, 8):
        frame = number // 4
        values = (frame % 25, frame // 25 % 60, frame // 25 // 60, 1 << 5)
        nibbles = [nibble for value in values for nibble in (value & 15, value >> 4)]
        for piece, nibble in enumerate(nibbles):
            at = start + (number + piece) / 100 + abs(host.rng.gauss(0, 0.0005))
            host.midi(at, f"F1 {piece << 4 | nibble:02X}")
    host.now, host.tick = start + 80, 80 * 48
    host.check("80 s into time code at 25 frames a second")
    host.now = start + 100


def _last_take(host: Evening) -> None:
    host.bpm = 112.0
    host.begin()
    while host.now < 3590:
        host.play(60, sigma=0.002, late=0.01, lost=0.001, doubled=0.001)
        host.check("the last take, with 2 ms of jitter")
    host.stop()
    host.check("the end", playing=False, locked=False)


def recording(host: Evening) -> str:
    """Return the recording's text, its times to the millisecond, as coarse as many programs tell them."""
    lines = [json.dumps({"pulsebridge_recording": 1})]
    lines += [json.dumps({"at": round(at, 3), **what}) for at, what in host.lines]
    return "\n".join(lines) + "\n"


def truth(host: Evening) -> str:
    """Return the truth's text, a JSON line for each stated moment."""
    return "".join(json.dumps(moment) + "\n" for moment in host.truth)


if __name__ == "__main__":
    here, host = Path(__file__).parent, evening()
    (here / "evening.jsonl.gz").write_bytes(gzip.compress(recording(host).encode(), 9, mtime=0))
    (here / "evening-truth.jsonl").write_text(truth(host), encoding="utf-8")
