"""What a leading bridge sends, bound to a port: the clock handed over ahead, the place with the cues.

Ticks and time code go to an outlet that sends each when it is due, so that they are handed
over ``ahead`` of that; nothing can be decided about so little time any more.  This file
decides nothing, and knows nothing about how ports are timed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Protocol

from bridge.show import SendMidi, SendOsc, Tell
from bridge.show.conductor import Conductor
from bridge.show.leading import Leading, Leg, Wanted

__all__ = ["LeadOut", "Outlet"]

_AHEAD = 0.005
"""Seconds, where no port is sent to."""


class Outlet(Protocol):
    """A MIDI port that sends messages when they are due."""

    @property
    def ahead(self) -> float:
        """How many seconds before it is due a message should be given to it."""
        ...

    def at(self, due: float, message: bytes, /) -> None:
        """Send ``message`` at ``due`` steady seconds, after all that were given before it."""
        ...


class LeadOut:
    """Call :meth:`follow` after each call of the conductor, and :meth:`wake` at :attr:`wake_at`.

    ``send`` gets the OSC messages, each with its due time, ``tell`` what people should know.
    """

    def __init__(
        self,
        wanted: Wanted,
        *,
        outlet: Outlet | None,
        send: Callable[[Iterable[SendOsc]], None],
        tell: Callable[[Tell], None],
    ) -> None:
        self._leading = Leading(wanted)
        self._outlet = outlet
        self._send = send
        self._tell = tell

    @property
    def ahead(self) -> float:
        """How many seconds before it is due something is handed over."""
        return self._outlet.ahead if self._outlet is not None else _AHEAD

    @property
    def wake_at(self) -> float | None:
        """When :meth:`wake` is to be called next; None while nothing is due."""
        due = self._leading.wake_at
        return None if due is None else due - self.ahead

    def follow(self, conductor: Conductor, now: float) -> None:
        """Take what the conductor plays, and hand over what is due of it."""
        passed, line = conductor.passed, conductor.line
        if passed is not None and line is not None:
            self._leading.play(Leg.of(passed, line))
            self.wake(now)
        else:
            self.stop(now)

    def stop(self, now: float) -> None:
        """Stop receivers, after what has been handed over."""
        self._perform(self._leading.stop(now + self.ahead))

    def wake(self, now: float) -> None:
        """Hand over what is due."""
        self._perform(self._leading.wake(now + self.ahead))

    def _perform(self, effects: Iterable[object]) -> None:
        messages = []
        for effect in effects:
            if isinstance(effect, SendMidi) and self._outlet is not None:
                self._outlet.at(effect.due, effect.data)
            elif isinstance(effect, SendOsc):
                messages.append(effect)
            elif isinstance(effect, Tell):
                self._tell(effect)
        self._send(messages)
