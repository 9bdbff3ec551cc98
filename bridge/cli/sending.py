"""Doing what a pure machine of :mod:`bridge.lay` returns: send, write the record, tell; in that order.

Decides nothing.  ``lay``, ``demo`` and whoever gives a host orders use it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import TYPE_CHECKING

from bridge.hostmap import Event, HostMap, Unusable, hear
from bridge.lay import Effect, Send, Write

if TYPE_CHECKING:
    from bridge.cli.lay_record import RecordFile
    from bridge.cli.route import Route
    from bridge.clock import Clock
    from bridge.lay.pacing import Pacing
    from bridge.osc import Port

__all__ = ["Hands", "Meaning", "Tell", "run"]

_REMEMBERED = 8192
"""Messages whose meaning is kept: the same markers are told over and over."""
Tell = Callable[[str], None]
Meaning = Callable[[Event], Event | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """Does effects."""

    port: Port
    route: Route
    tell: Tell
    record: RecordFile | None = None
    """None for machines that write none."""
    after: Callable[[Effect], None] | None = None
    """Called when an effect has been done."""

    def do(self, effects: list[Effect]) -> None:
        """Do ``effects`` in their order."""
        for effect in effects:
            if isinstance(effect, Send):
                self.port.send(effect.message, self.route.to(effect.message))
            elif not isinstance(effect, Write):
                self.tell(f"{'warning' if effect.warning else 'note'}: {effect.text}")
            elif self.record is None:
                raise RuntimeError("this machine has no record to write")
            else:
                self.record.write(effect.entries)
            if self.after is not None:
                self.after(effect)


def run(
    machine: Pacing, host: HostMap, hands: Hands, clock: Clock, meaning: Meaning = lambda event: event
) -> int:
    """Run a machine to its end; return how many messages did not fit the map.

    ``meaning`` is what an event says to the machine, if anything.
    """
    unusable = 0
    understood = lru_cache(maxsize=_REMEMBERED)(partial(hear, host))
    hands.do(machine.start(clock.now()))
    while machine.wake_at < float("inf"):
        for arrived in hands.port.receive(machine.wake_at - clock.now()):
            for message in arrived.messages:
                hands.do(machine.reply(message, clock.now()))
                for told in understood(message):
                    unusable += isinstance(told, Unusable)
                    hands.route.heard(told, arrived.sender)
                    event = meaning(told)
                    if event is not None:
                        hands.do(machine.hear(event, clock.now()))
        hands.do(machine.wake(clock.now()))
    return unusable
