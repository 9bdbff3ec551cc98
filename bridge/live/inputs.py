"""Everything that comes in, from a socket and a MIDI port, in the one order in which it came.

MIDI arrives on threads of its drivers and waits in a queue until the loop turns to it;
what is older goes first.  Times are seconds since the beginning, on the steady clock, and
never fall.  This file knows nothing about what messages mean.
"""

from __future__ import annotations

import asyncio
import time
from collections import deque
from collections.abc import Callable
from contextlib import AbstractContextManager, AsyncExitStack
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self

from bridge.hostmap import HostMap
from bridge.live.borrowed import open_port
from bridge.midi.news import PortNews
from bridge.osc import Port, resolve
from bridge.osc.listener import Heard, Listener
from bridge.store.recording import Recorded

__all__ = ["Arrival", "Inputs", "MidiChoice", "midi_input"]

_MOST_WAITING = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class MidiChoice:
    """Which MIDI port, and how: made by us (``virtual``), or read with JACK's own times (``jack``)."""

    name: str
    virtual: bool = False
    jack: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One input as it is recorded, who sent it, and its bytes."""

    recorded: Recorded
    sender: str
    packet: bytes


class Inputs:
    """Deliver what comes in while an ``async with`` block runs.

    ``deliver`` gets each input, on the loop; ``warn`` gets sentences for people; ``zero`` is
    the time of the steady clock that counts as the beginning: now, if none is named.  With
    ``borrow``, a port that a running bridge holds is heard through that.  Entering
    raises DeviceError or PeerError when a port cannot be opened.
    """

    def __init__(
        self,
        *,
        host: HostMap | None,
        midi: MidiChoice | None,
        deliver: Callable[[Arrival], None],
        warn: Callable[[str], None],
        zero: float | None = None,
        borrow: bool = False,
    ) -> None:
        self._host = host if host is not None and host.receive_on is not None else None
        self._choice = midi
        self._deliver = deliver
        self._warn = warn
        self._borrow = borrow
        self._waiting: deque[tuple[float, bytes]] = deque()
        self.overrun = 0
        """MIDI messages that found no room to wait: the loop was too busy for too long."""
        self._zero = time.monotonic() if zero is None else zero
        self._newest = 0.0
        self._stack = AsyncExitStack()
        self.port: Port | None = None
        self.listener: Listener | None = None

    async def __aenter__(self) -> Self:
        self._loop = asyncio.get_running_loop()
        async with AsyncExitStack() as stack:
            if self._choice is not None:
                stack.enter_context(midi_input(self._choice, take=self._on_midi, tell=self._on_news))
            if self._host is not None:
                self.port = stack.enter_context(self._open(self._host))
                self.listener = Listener(self.port, self._on_osc, warn=self._warn)
                await stack.enter_async_context(self.listener)
            self._stack = stack.pop_all()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self._stack.aclose()

    def now(self) -> float:
        """Return the seconds since the beginning; never before what was delivered last."""
        return max(time.monotonic() - self._zero, self._newest)

    def since_beginning(self, at: float) -> float:
        """Return the seconds since the beginning of ``at``, an instant of the steady clock."""
        return at - self._zero

    def _open(self, host: HostMap) -> Port:
        assert host.receive_on is not None  # noqa: S101  looked at when the inputs were made
        believe = resolve(host.send_to)[1][0] if host.send_to else None
        return open_port(host.receive_on, believe=believe, borrow=self._borrow, tell=self._warn)

    def _on_midi(self, at: float, message: bytes) -> None:
        """Take a message on a thread that is not the loop's."""
        if len(self._waiting) >= _MOST_WAITING:
            self.overrun += 1
            return
        self._waiting.append((at, message))
        self._loop.call_soon_threadsafe(self._take_midi)

    def _on_news(self, news: PortNews) -> None:
        self._loop.call_soon_threadsafe(self._warn, str(news))

    def _take_midi(self, until: float | None = None) -> None:
        while self._waiting and (until is None or self._waiting[0][0] <= until):
            at, message = self._waiting.popleft()
            self._hand_on(Recorded(at=self._rising(at), midi=message), "MIDI", message)

    def _on_osc(self, heard: Heard) -> None:
        self._take_midi(heard.at)
        at, sender = self._rising(heard.at), f"{heard.sender[0]}:{heard.sender[1]}"
        if heard.message is None:
            self._hand_on(Recorded(at=at, raw=heard.raw), sender, heard.raw)
        else:
            self._hand_on(Recorded(at=at, osc=heard.message), sender, heard.raw)

    def _hand_on(self, recorded: Recorded, sender: str, packet: bytes) -> None:
        self._deliver(Arrival(recorded=recorded, sender=sender, packet=packet))

    def _rising(self, at: float) -> float:
        self._newest = max(self._newest, at - self._zero)
        return self._newest


def midi_input(
    choice: MidiChoice,
    *,
    take: Callable[[float, bytes], None],
    tell: Callable[[PortNews], None] = lambda _: None,
) -> AbstractContextManager[Any]:
    """Return the chosen port, to be entered: ``take`` gets each message and its time on the steady clock."""
    if choice.jack:
        from bridge.midi.jack import JackIn

        return JackIn(choice.name, take=take, tell=tell)
    from bridge.midi import MidiIn

    return MidiIn(choice.name, take=take, tell=tell, virtual=choice.virtual)
