"""Someone taps along with the host: every message of the host, every tap, in the order they came.

A tap is the Enter key, or a note on a MIDI port of its own.  It is stamped on arrival, so
that the key's own delay, some milliseconds, is part of what is measured.  This file does
not know what follows from the taps.
"""

from __future__ import annotations

import asyncio
import os
import sys
import threading
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from typing import Any

from bridge.errors import UsageError
from bridge.follow import Follower
from bridge.follow.delay import Taps
from bridge.hostmap import HostMap, hear
from bridge.live.inputs import Arrival, Inputs, MidiChoice, midi_input

__all__ = ["tap_along"]

_NOTE_ON = 0x9
Tell = Callable[[str], None]


async def tap_along(
    follower: Follower,
    *,
    host: HostMap | None,
    midi: MidiChoice | None,
    tap_on: str | None,
    times: int,
    seconds: float | None,
    tell: Tell,
) -> Taps:
    """Return the taps when ``times`` of them were of use, the time is over, or the keys have ended."""
    return await _Session(follower, host, times, tell).run(midi, tap_on, seconds)


class _Session:
    def __init__(self, follower: Follower, host: HostMap | None, times: int, tell: Tell) -> None:
        self._follower = follower
        self._host = host
        self._times = times
        self._tell = tell
        self._taps = Taps()

    async def run(self, midi: MidiChoice | None, tap_on: str | None, seconds: float | None) -> Taps:
        self._loop = asyncio.get_running_loop()
        self._ended: asyncio.Future[None] = self._loop.create_future()
        async with Inputs(host=self._host, midi=midi, deliver=self._guarded, warn=self._tell) as self._inputs:
            with self._tapped(tap_on):
                self._tell(f"tap every quarter note that you hear, {self._times} times: {_where(tap_on)}")
                if seconds is not None:
                    self._loop.call_later(seconds, self._end)
                await self._ended
        return self._taps

    def _tapped(self, tap_on: str | None) -> AbstractContextManager[Any]:
        if tap_on is not None:
            return midi_input(MidiChoice(name=tap_on), take=self._on_note)
        _read_keys(
            lambda at: self._call(self._on_tap, at),
            lambda: self._call(self._end),
        )
        return nullcontext()

    def _on_note(self, at: float, message: bytes) -> None:
        if message[0] >> 4 == _NOTE_ON and message[2]:
            self._call(self._on_tap, at)

    def _call(self, what: Callable[..., None], *args: float) -> None:
        """Call on the loop from another thread, if it still runs."""
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(what, *args)

    def _guarded(self, arrival: Arrival) -> None:
        """Take an input; what goes wrong ends the run, and is raised there."""
        try:
            self._take(arrival)
        except Exception as error:  # noqa: BLE001  raised again where the run is waited for
            if not self._ended.done():
                self._ended.set_exception(error)

    def _take(self, arrival: Arrival) -> None:
        recorded = arrival.recorded
        if recorded.midi is not None:
            self._follower.midi(recorded.at, recorded.midi)
        elif recorded.osc is not None and self._host is not None:
            for meaning in hear(self._host, recorded.osc):
                self._follower.heard(recorded.at, meaning)

    def _on_tap(self, at: float) -> None:
        if self._ended.done():
            return
        since = self._inputs.since_beginning(at)
        used = self._taps.take(since, self._follower.states(since))
        count = self._taps.count - self._taps.unused
        if not used and self._taps.unused == 1:
            self._tell("that tap was not used: nothing plays at a known place yet, or the key repeats itself")
        elif used and count % 8 == 0:
            self._tell(f"{count} of {self._times}")
        if count >= self._times:
            self._end()

    def _end(self) -> None:
        if not self._ended.done():
            self._ended.set_result(None)


def _where(tap_on: str | None) -> str:
    if tap_on is not None:
        return f"any note on {tap_on!r}"
    return "the Enter key (Ctrl-D ends it)"


def _read_keys(tap: Callable[[float], None], end: Callable[[], None]) -> None:
    """Call ``tap`` with the time of each line of stdin, ``end`` after the last, on a thread of their own.

    Read past Python's buffer: a thread that waits in there would hold its lock at the exit.
    """
    try:
        keys = sys.stdin.fileno()
    except (AttributeError, OSError, ValueError):
        raise UsageError(
            "there is no keyboard to tap on", hint="Tap on a MIDI port instead: --tap-on PORT."
        ) from None

    def read() -> None:
        while data := os.read(keys, 4096):
            at = time.monotonic()
            if b"\n" in data:
                tap(at)
        end()

    threading.Thread(target=read, name="taps", daemon=True).start()
