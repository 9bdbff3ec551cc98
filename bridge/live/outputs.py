"""What goes out, each thing at its time: OSC to those who take cues, MIDI to a port; all of it logged.

A receiver with a lead is sent to that much earlier, with the time tag of when it is due.
What is due at the same time goes out in the order in which it was made.  This file
decides nothing, and knows nothing about what the messages mean.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import count, groupby
from typing import Any, Protocol

from bridge.clock.wall import WallClock
from bridge.osc import UnreadableError, encode
from bridge.osc.sender import Receiver, Sender
from bridge.show import SendMidi, SendOsc

__all__ = ["MidiPort", "Outputs"]

Report = Callable[[dict[str, Any]], None]
"""Gets a record of each thing that went out, or could not."""


class MidiPort(Protocol):
    """A MIDI port that is sent to."""

    name: str
    failed: int

    def send(self, message: bytes, /) -> bool:
        """Send one whole message; False where that cannot be done."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class _Group:
    """Receivers with the same lead; none of them: the MIDI port."""

    ahead: float
    receivers: tuple[Receiver, ...] = ()


class Outputs:
    """Takes effects, and sends them when :meth:`wake` is called at :attr:`wake_at`.

    ``at`` and ``due`` are seconds of the steady clock.
    """

    def __init__(
        self,
        *,
        sender: Sender | None = None,
        midi: MidiPort | None = None,
        wall: WallClock,
        report: Report,
        now: Callable[[], float],
    ) -> None:
        self.sent = 0
        self.failed = 0
        self.worst = 0.0
        """Seconds by which the latest of all was late."""
        self._sender = sender
        self._midi = midi
        self._wall = wall
        self._report = report
        self._now = now
        receivers = sorted(sender.receivers if sender else (), key=lambda one: -one.ahead)
        groups = groupby(receivers, key=lambda one: one.ahead)
        self._groups = tuple(_Group(ahead=ahead, receivers=tuple(found)) for ahead, found in groups)
        self._midi_group = _Group(ahead=0.0)
        self._waiting: list[tuple[float, int, _Group, SendOsc | SendMidi, bytes]] = []
        self._count = count()

    @property
    def ahead(self) -> float:
        """The longest lead, in seconds: so much earlier effects have to be taken."""
        return max((group.ahead for group in self._groups), default=0.0)

    @property
    def wake_at(self) -> float | None:
        """When something has to go out; None while nothing waits."""
        return self._waiting[0][0] if self._waiting else None

    def take(self, effects: Iterable[SendOsc | SendMidi]) -> None:
        """Take what is to go out; its bytes are made here, so that none are left to make when it is due."""
        for effect in effects:
            if isinstance(effect, SendMidi):
                if self._midi is not None:
                    self._wait(self._midi_group, effect, effect.data)
                continue
            try:
                packet = encode(effect.message)
            except UnreadableError as error:
                self.failed += 1
                self._report({"event": "failed", "text": error.message})
                continue
            for group in self._groups:
                self._wait(group, effect, packet)

    def wake(self, at: float) -> None:
        """Send what is due by ``at``, and only then log it."""
        went: list[tuple[float, bool, _Group, SendOsc | SendMidi]] = []
        while self._waiting and self._waiting[0][0] <= at:
            _, _, group, effect, packet = heapq.heappop(self._waiting)
            actual = self._now()
            went.append((actual, self._send(group, effect, packet), group, effect))
        for one in went:
            self._log(*one)

    def _wait(self, group: _Group, effect: SendOsc | SendMidi, packet: bytes) -> None:
        heapq.heappush(self._waiting, (effect.due - group.ahead, next(self._count), group, effect, packet))

    def _send(self, group: _Group, effect: SendOsc | SendMidi, packet: bytes) -> bool:
        if isinstance(effect, SendMidi):
            return self._midi is not None and self._midi.send(packet)
        if self._sender is None:
            return False
        wall = self._wall.at(effect.due)
        went = [self._sender.send(receiver, packet, wall=wall) for receiver in group.receivers]
        return all(went)

    def _log(self, actual: float, went: bool, group: _Group, effect: SendOsc | SendMidi) -> None:
        self.sent += went
        self.failed += not went
        self.worst = max(self.worst, actual - (effect.due - group.ahead))
        record: dict[str, Any] = {
            "event": "sent" if went else "failed",
            "due": self._wall.at(effect.due),
            "actual": self._wall.at(actual),
            "ahead": group.ahead,
        }
        if isinstance(effect, SendOsc):
            record["osc"] = effect.message.as_record()
            record["to"] = [str(receiver) for receiver in group.receivers]
        else:
            record["midi"] = effect.data.hex(" ").upper()
            record["to"] = [self._midi.name] if self._midi is not None else []
        self._report(record)
