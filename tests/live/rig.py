"""A running bridge between a practice host and an ear for its cues, all on this machine.

What is waited for is an event that was reported; nothing sleeps.
"""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import replace
from pathlib import Path

from bridge.hostmap import Address, Message
from bridge.hostmap import load as load_map
from bridge.live.daemon import Daemon
from bridge.live.settings import Settings
from bridge.osc import Port
from bridge.osc.sender import Destination
from bridge.plan import load
from bridge.practice import PracticeHost, SongTimeline
from bridge.shape import solve
from bridge.show import Programme
from bridge.song import unroll

ROOT = Path(__file__).parents[2]
PLAN = """
pulsebridge: 1
title: Low Tide Relay
tempo: 960
meter: 4/4
layers:
  band: {cycle: 2 bars, player: guitars}
  hand drum: {cycle: 3/16, player: percussion}
sections:
  - {name: Prelude, layers: [band], bars: 4}
  - {name: Crossing, layers: [band, hand drum], bars: 6}
  - {name: Landfall, layers: [band], bars: 40}
"""
"""Sixteen beats a second: a bar lasts a quarter of one."""
BEAT = 1 / 16
PATIENCE = 30.0
HERE = "127.0.0.1"


def free_port() -> int:
    with Port(Address(HERE, 0)) as port:
        return port.place[1]


def host_map(send_to: int, receive_on: int, *, without: tuple[str, ...] = ()):
    text = (ROOT / "examples/hosts/practice-rig.yaml").read_text(encoding="utf-8")
    found = load_map(text.encode(), source="rig")
    says = {key: said for key, said in found.says.items() if key not in without}
    return replace(found, send_to=Address(HERE, send_to), receive_on=Address(HERE, receive_on), says=says)


class Rig:
    """Everything; use it in an ``async with`` block."""

    def __init__(self, folder: Path, *, ahead: float = 0.0, without: tuple[str, ...] = (), **settings):
        self.folder = folder
        self.plan = folder / "tide.yaml"
        if not self.plan.exists():
            self.plan.write_text(PLAN, encoding="utf-8")
        self.song = self.solved()
        self.host_port, back = free_port(), free_port()
        self.host = PracticeHost(
            SongTimeline(self.song),
            listen_on=Address(HERE, self.host_port),
            send_to=Address(HERE, back),
            rate=50,
        )
        self.ear = Port(Address(HERE, 0))
        self.records: list[dict] = []
        self.warnings: list[str] = []
        self._changed = asyncio.Event()
        self._out = Port(Address(HERE, 0))
        self.settings = Settings(
            what="follow",
            title=self.song.plan.title,
            plans=(self.plan,),
            host=host_map(self.host_port, back, without=without),
            cues_to=(Destination(address=Address(HERE, self.ear.place[1]), ahead=ahead),),
            token="tonight",
            journal=folder / "journal",
            log=folder / "log",
            **{"listen": Address(HERE, 0), **settings},
        )
        self.daemon = Daemon(Programme((self.song,)), self.settings, report=self._report, warn=self._warn)

    def solved(self):
        plan = load(self.plan.read_bytes(), source=str(self.plan), solved=None)
        return unroll(plan, solve(plan).bars)

    async def __aenter__(self):
        self.host.__enter__()
        opened = asyncio.Event()
        self.daemon.at_start.append(opened.set)
        self._running = asyncio.create_task(self.daemon.run())
        waiting = asyncio.create_task(opened.wait())
        await asyncio.wait({self._running, waiting}, return_when=asyncio.FIRST_COMPLETED, timeout=PATIENCE)
        waiting.cancel()
        if self._running.done():
            self._close()
            await self._running
        return self

    async def __aexit__(self, *about):
        try:
            self.daemon.stop()
            await asyncio.wait_for(self._running, PATIENCE)
        finally:
            self._close()

    def _close(self):
        self.host.__exit__(None, None, None)
        self.ear.close()
        self._out.close()

    def _report(self, record):
        self.records.append(record)
        self._changed.set()

    def _warn(self, text):
        self.warnings.append(text)
        self._changed.set()

    async def until(self, true, what=""):
        """Wait until ``true()``; it is asked whenever something was reported."""

        async def wait():
            while not true():
                self._changed.clear()
                await self._changed.wait()

        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(wait(), PATIENCE)
        assert true(), (what, self.warnings, [r for r in self.records if r["event"] != "sent"][-6:])

    async def until_section(self, name):
        await self.until(lambda: any(now[0] == name for now in self.nows()), name)

    def tell_host(self, address, types="", *args):
        self._out.send(Message(address, types, args), (HERE, self.host_port))

    def roll(self, quarters=0.0):
        self.tell_host("/rig/goto", "f", quarters)
        self.tell_host("/rig/roll", "i", 1)

    def order(self, do, *words):
        """Send a control over the network, as a pedal board would."""
        host, port = self.daemon.listens_on
        self._out.send(Message(f"/pulsebridge/{do}", "s" * len(words), words), (host, port))

    def sent(self, name):
        """Return what went out under an address, in order."""
        went = (r["osc"] for r in self.records if r["event"] == "sent" and "osc" in r)
        return [tuple(osc[2:]) for osc in went if osc[0] == f"/pulsebridge/{name}"]

    def nows(self):
        return self.sent("now")

    def told(self, event):
        return [r for r in self.records if r["event"] == event]

    def heard(self):
        """Return what came to the ear so far, in order."""
        return [message for arrived in self.ear.receive(0.0) for message in arrived.messages]
