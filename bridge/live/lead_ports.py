"""The ports of a show that is led, opened: where the clock goes, and what is heard.

Both are companions of the daemon's conductor.  This file decides nothing.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import ExitStack, asynccontextmanager
from dataclasses import dataclass

from bridge.live.daemon import Daemon
from bridge.live.inputs import MidiChoice
from bridge.live.lead_out import LeadOut, Outlet
from bridge.live.sound_out import SoundOut
from bridge.midi.lateness import Lateness
from bridge.midi.news import PortNews
from bridge.show.leading import Wanted
from bridge.show.leading_sound import Sounding

__all__ = ["Heard", "add_ports"]

_LOOK_EVERY = 6.0
"""Seconds between two looks at the clock's port: each tenth, from outside, may hold a tick up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What is heard, on which card, and how loud at most."""

    sounding: Sounding
    device: str | None
    peak_dbfs: float


def add_ports(daemon: Daemon, wanted: Wanted, *, midi: MidiChoice | None, heard: Heard | None) -> None:
    """Have the daemon send what is ``wanted``, the clock to ``midi``, and sound what is ``heard``.

    The ports are opened when the daemon runs, and raise DeviceError there.
    """
    lead = LeadOut(wanted)
    daemon.companions.append(lead)

    @asynccontextmanager
    async def clock() -> AsyncIterator[None]:
        loop = asyncio.get_running_loop()

        def tell(news: PortNews) -> None:
            loop.call_soon_threadsafe(daemon.warn, str(news))

        with ExitStack() as stack:
            if midi is not None:
                lead.outlet = _outlet(stack, midi, tell)
            yield
        if lead.outlet is not None:
            _tell_lateness(daemon, lead.outlet.lateness, lead.dropped)

    daemon.opened.append(clock)
    if heard is not None:
        _add_sound(daemon, heard)


def _outlet(stack: ExitStack, midi: MidiChoice, tell: Callable[[PortNews], None]) -> Outlet:
    if midi.jack:
        from bridge.midi.jack_out import JackOut

        return stack.enter_context(JackOut(midi.name, virtual=midi.virtual, tell=tell))
    from bridge.live.punctual import Punctual
    from bridge.midi import MidiOut

    port = stack.enter_context(MidiOut(midi.name, virtual=midi.virtual, tell=tell, look_every=_LOOK_EVERY))
    return stack.enter_context(Punctual(port.send))


def _tell_lateness(daemon: Daemon, lateness: Lateness, dropped: int) -> None:
    """Say how late the clock was: single ticks are not logged."""
    late = lateness.at_share(0.99) or 0.0
    text = (
        f"{lateness.count:,} MIDI messages of the clock were sent, 99 % of them less than"
        f" {late * 1000:.2f} ms late, the latest by {lateness.worst * 1000:.1f} ms"
    )
    figures = {"sent": lateness.count, "late_p99": late, "late_worst": lateness.worst, "dropped": dropped}
    daemon.tell("clock", text, **figures)


def _add_sound(daemon: Daemon, heard: Heard) -> None:
    layers = max(len(song.plan.layers) for song in daemon.conductor.programme.songs)
    sound = SoundOut(
        heard.sounding,
        layers=layers,
        device=heard.device,
        peak_dbfs=heard.peak_dbfs,
        tell=daemon.warn,
    )
    daemon.companions.append(sound)

    @asynccontextmanager
    async def opened() -> AsyncIterator[None]:
        with sound:
            yield
        daemon.tell("sound", "the sound has ended", lost=sound.lost, **sound.said)

    daemon.opened.append(opened)
