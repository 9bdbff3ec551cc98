"""A UDP port drained on the event loop: every message, or what could not be read, with its time.

Up to 64 packets a wake-up, so that a burst neither waits nor keeps the loop from its
other work.  Where the loop cannot watch a socket (Windows' own cannot) a thread waits in
its place and the loop drains all the same.  Messages under a time tag are delivered when
due (:mod:`bridge.osc.held`).  This file knows nothing about what messages mean.
"""

from __future__ import annotations

import asyncio
import contextlib
import select
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from bridge.hostmap import Message
from bridge.osc.codec import Part, UnknownTypeError, read_packet
from bridge.osc.held import Held
from bridge.osc.port import Packet, Port

__all__ = ["AT_A_TIME", "Heard", "Listener"]

AT_A_TIME = 64
"""Packets a wake-up."""
_MOST_SENDERS = 256


@dataclass(frozen=True, slots=True)
class Heard:
    """One message that is due, or bytes that could not be read: when, from whom, and which."""

    at: float
    sender: tuple[str, int]
    message: Message | None
    raw: bytes


class Listener:
    """Deliver what comes in on ``port``, in order of ``at``, while an ``async with`` block runs.

    ``deliver`` gets each message; ``warn`` gets a sentence for people when a sender's clock
    is wrong, once for each sender.  Closing the port is left to who opened it.
    """

    def __init__(
        self, port: Port, deliver: Callable[[Heard], None], *, warn: Callable[[str], None] = lambda _: None
    ) -> None:
        self._port = port
        self._deliver = deliver
        self._warn = warn
        self._warned: set[str] = set()
        self._timer: asyncio.TimerHandle | None = None
        self._watch: _Watch | None = None
        self.held: Held[Heard] = Held()

    async def __aenter__(self) -> Self:
        self._loop = asyncio.get_running_loop()
        try:
            self._loop.add_reader(self._port.fileno(), self._drain)
        except NotImplementedError:
            self._watch = _Watch(self._port, self._loop, self._drain)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._watch is not None:
            self._watch.stop()
        else:
            self._loop.remove_reader(self._port.fileno())
        if self._timer is not None:
            self._timer.cancel()

    def _drain(self) -> None:
        for packet in self._port.drain(AT_A_TIME):
            self._release(packet.at)
            self._take(packet)
        self._set_timer()

    def _take(self, packet: Packet) -> None:
        wall = time.time()
        for part in read_packet(packet.data):
            heard = Heard(packet.at, packet.sender, part.message, part.raw)
            if part.message is None:
                self._count_fault(part)
                self._deliver(heard)
                continue
            due = self._due(part, packet, wall)
            if due <= packet.at or not self.held.hold(heard, due):
                self._deliver(heard)

    def _count_fault(self, part: Part) -> None:
        if isinstance(part.fault, UnknownTypeError):
            self._port.counts.unknown_types += 1
        else:
            self._port.counts.unreadable += 1

    def _due(self, part: Part, packet: Packet, wall: float) -> float:
        before = self.held.wrong_clock
        due = self.held.due_at(part.tag, packet.at, wall)
        if self.held.wrong_clock > before:
            self._tell_wrong_clock(packet.sender[0])
        return due

    def _tell_wrong_clock(self, sender: str) -> None:
        if sender in self._warned or len(self._warned) >= _MOST_SENDERS:
            return
        self._warned.add(sender)
        self._warn(
            f"the clock of {sender} is wrong, or ours: its bundles carry times that are far from now; "
            "they are taken as they come"
        )

    def _release(self, at: float) -> None:
        for due, heard in self.held.take_due(at):
            self._deliver(Heard(due, heard.sender, heard.message, heard.raw))

    def _set_timer(self) -> None:
        due = self.held.next_due()
        if self._timer is not None:
            self._timer.cancel()
        self._timer = None if due is None else self._loop.call_later(due - time.monotonic(), self._on_timer)

    def _on_timer(self) -> None:
        self._release(time.monotonic())
        self._set_timer()


class _Watch:
    """A thread that tells the loop when packets are there, and waits until it has taken them."""

    def __init__(self, port: Port, loop: asyncio.AbstractEventLoop, drain: Callable[[], None]) -> None:
        self._port = port
        self._loop = loop
        self._drain = drain
        self._taken = threading.Event()
        self._stopping = False
        self._ended, self._end = socket.socketpair()
        self._thread = threading.Thread(target=self._run, name="osc", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End the thread."""
        self._stopping = True
        self._end.close()
        self._taken.set()
        self._thread.join()
        self._ended.close()

    def _run(self) -> None:
        while True:
            there, _, _ = select.select([self._port.fileno(), self._ended.fileno()], [], [])
            if self._ended.fileno() in there:
                return
            self._taken.clear()
            if self._stopping:
                return
            with contextlib.suppress(RuntimeError):  # the loop has been closed
                self._loop.call_soon_threadsafe(self._take)
            self._taken.wait()

    def _take(self) -> None:
        self._drain()
        self._taken.set()
