"""``receive`` on sockets and ports: one event loop, JSON lines or a view, a recording.

This file knows no options.
"""

from __future__ import annotations

import asyncio
import contextlib
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from bridge.cli.output import note
from bridge.cli.receiving import Receiver, event_line, line_of
from bridge.errors import PulsebridgeError
from bridge.live.inputs import Arrival, Inputs, MidiChoice
from bridge.live.traffic import Traffic
from bridge.store.recorder import Recorder

if TYPE_CHECKING:
    from bridge.cli.receive_view import View
    from bridge.follow import Follower
    from bridge.hostmap import HostMap

__all__ = ["Live", "run"]


def run(
    *,
    host: HostMap | None,
    midi: MidiChoice | None,
    follower: Follower,
    record: Path | None,
    seconds: float | None,
    view: bool,
    quiet: bool,
) -> None:
    """Receive until interrupted, or for ``seconds``; a ``view`` for people, else JSON lines.

    KeyboardInterrupt passes through when everything has been closed.
    """
    with contextlib.ExitStack() as stack:
        recorder = stack.enter_context(Recorder(record)) if record is not None else None
        live = Live(Receiver(host, follower), recorder, quiet=quiet)
        if view:
            from bridge.cli.receive_view import View

            live.view = stack.enter_context(View(live))
        asyncio.run(live.listen(host, midi, seconds))
    if not quiet:
        for line in (*live.receiver.summary(), *live.losses):
            note(line)


class Live:
    """What a running ``receive`` knows: the receiver, the traffic, who looks at it."""

    def __init__(self, receiver: Receiver, recorder: Recorder | None, *, quiet: bool) -> None:
        self.receiver = receiver
        self.traffic = Traffic()
        self.inputs: Inputs | None = None
        self.view: View | None = None
        self.losses: list[str] = []
        """What was dropped on the way in, as it was last looked at."""
        self._recorder = recorder
        self._quiet = quiet
        self._flushing = False
        self._lines: list[str] = []

    async def listen(self, host: HostMap | None, midi: MidiChoice | None, seconds: float | None) -> None:
        """Receive until the time is over; raise what goes wrong with a port or the disk."""
        self._loop = asyncio.get_running_loop()
        self._ended: asyncio.Future[None] = self._loop.create_future()
        with contextlib.suppress(NotImplementedError):  # Windows ends the process by itself
            self._loop.add_signal_handler(signal.SIGTERM, self._end)
        async with Inputs(
            host=host, midi=midi, deliver=self._guarded, warn=self._warn, borrow=True
        ) as self.inputs:
            for line in self._where(midi):
                self._warn(line)
            if seconds is not None:
                self._loop.call_later(seconds, self._end)
            watching = asyncio.create_task(self._watch()) if self.view is not None else None
            try:
                await self._ended
            finally:
                self.losses = self.lost()
                if watching is not None:
                    watching.cancel()

    def lost(self) -> list[str]:
        """Return what was dropped on the way in, and why, in words, a line each."""
        inputs = self.inputs
        if inputs is None:
            return []
        found = [(inputs.overrun, "MIDI lost: this machine was too busy")]
        if inputs.port is not None and inputs.listener is not None:
            counts, held = inputs.port.counts, inputs.listener.held
            found += [
                (inputs.port.overflowed(), "lost before being read: the buffer was full"),
                (counts.strangers, f"not believed: from other machines, last {counts.stranger}"),
                (counts.unreadable, "no OSC at all"),
                (counts.unknown_types, "discarded for an unknown type tag"),
                (held.wrong_clock, "with a time tag far from now: a clock is wrong"),
                (held.crowded_out, "delivered before their time: too many wait"),
            ]
        return [f"{count:,} {what}" for count, what in found if count]

    def _where(self, midi: MidiChoice | None) -> list[str]:
        """Say where we listen."""
        lines = []
        if self.inputs is not None and self.inputs.port is not None:
            place, room = self.inputs.port.place, self.inputs.port.buffer
            lines.append(f"listening on {place[0]}:{place[1]}, room for {room / 2**20:.2g} MiB")
        if midi is not None:
            lines.append(f"listening to the MIDI port {midi.name!r}")
        return lines

    def _guarded(self, arrival: Arrival) -> None:
        """Take an input; what goes wrong ends the run, and is raised there."""
        try:
            self._take(arrival)
        except Exception as error:  # noqa: BLE001  raised again where the run is waited for
            self._fail(error)

    def _take(self, arrival: Arrival) -> None:
        recorded = arrival.recorded
        if self._recorder is not None:
            self._recorder.write(recorded, arrival.packet)
        for event in self.receiver.take(recorded):
            self._tell(event_line(event))
        if self.view is not None:
            self.traffic.take(arrival)
        else:
            self._lines.append(line_of(self.receiver.transport(recorded.at)))
        if not self._flushing:
            self._flushing = True
            self._loop.call_soon(self._flush)

    def _flush(self) -> None:
        """Hand on what has gathered: what a reader has seen stands in the recording already."""
        self._flushing = False
        try:
            if self._recorder is not None:
                self._recorder.flush()
            sys.stdout.write("".join(self._lines))
            self._lines.clear()
            sys.stdout.flush()
        except (PulsebridgeError, OSError) as error:
            self._fail(error)

    def _fail(self, error: Exception) -> None:
        if not self._ended.done():
            self._ended.set_exception(error)

    def _tell(self, line: str) -> None:
        if self.view is not None:
            self.view.tell(line)
        elif not self._quiet:
            note(line)

    def _warn(self, line: str) -> None:
        """Say what people have to know, whoever reads stdout."""
        if self.view is not None:
            self.view.tell(line)
        else:
            note(line)

    def _end(self) -> None:
        if not self._ended.done():
            self._ended.set_result(None)

    async def _watch(self) -> None:
        """Draw the view now and then; notice what has fallen silent."""
        while self.view is not None and self.inputs is not None:
            now = self.inputs.now()
            for event in self.receiver.follower.pass_time(now):
                self._tell(event_line(event))
            self.losses = self.lost()
            self.view.draw(now)
            await asyncio.sleep(0.25)
