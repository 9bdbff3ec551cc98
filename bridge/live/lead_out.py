"""What a leading bridge sends beside the cues: clock and time code to a MIDI port, the place with the cues.

A companion of the daemon's conductor.  Ticks and time code go to an outlet that sends each
when it is due, so that they are handed over ``ahead`` of that.  This file decides nothing,
and knows nothing about how ports are timed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol, TypeGuard

from bridge.midi.lateness import Lateness
from bridge.show import Conductor, Effect, SendMidi, SendOsc
from bridge.show.leading import Leading, Leg, Wanted
from bridge.show.leading_moment import Strike

__all__ = ["LeadOut", "Outlet"]

_AHEAD = 0.005
"""Seconds, where no port is sent to."""
_STALE = 2.0
"""Seconds: who wakes later than this has slept, and receivers are sent to where the show goes on."""
_PASSING = (0xF8, 0xF1)
"""Ticks and quarter frames: worth nothing later; what stops receivers or sends them somewhere always is."""


class Outlet(Protocol):
    """A MIDI port that sends messages when they are due."""

    lateness: Lateness

    @property
    def ahead(self) -> float:
        """How many seconds before it is due a message should be given to it."""
        ...

    def at(self, due: float, message: bytes, /) -> None:
        """Send ``message`` at ``due`` steady seconds, after all that were given before it."""
        ...


class LeadOut:
    """The companion; without an ``outlet`` only the place is said."""

    def __init__(self, wanted: Wanted, *, outlet: Outlet | None = None) -> None:
        self.outlet = outlet
        self.dropped = 0
        """What was due while the machine slept."""
        self._leading = Leading(wanted)

    @property
    def ahead(self) -> float:
        """How many seconds before it is due something is handed over."""
        return self.outlet.ahead if self.outlet is not None else _AHEAD

    @property
    def wake_at(self) -> float | None:
        """When :meth:`wake` is to be called next; None while nothing is due."""
        due = self._leading.wake_at
        return None if due is None else due - self.ahead

    def wake(self, at: float) -> list[Effect]:
        """Hand over what is due; return what others have to send or tell."""
        return self._handed_over(self._leading.wake(at + self.ahead), at)

    def look(self, at: float, conductor: Conductor) -> list[Effect]:
        """Take what the conductor plays, and hand over what is due of it."""
        passed, line = conductor.passed, conductor.line
        if passed is None or line is None:
            return self.stop(at)
        self._leading.play(Leg.of(passed, line))
        return self.wake(at)

    def stop(self, at: float) -> list[Effect]:
        """Stop receivers, after what has been handed over."""
        return self._handed_over(self._leading.stop(at + self.ahead), at)

    def _handed_over(self, effects: Iterable[Effect | Strike], at: float) -> list[Effect]:
        rest: list[Effect] = []
        for effect in effects:
            if _passes(effect) and effect.due < at - _STALE:
                self.dropped += 1
            elif isinstance(effect, SendMidi):
                if self.outlet is not None:
                    self.outlet.at(effect.due, effect.data)
            elif not isinstance(effect, Strike):
                rest.append(effect)
        return rest


def _passes(effect: Effect | Strike) -> TypeGuard[SendMidi | SendOsc]:
    return isinstance(effect, SendOsc) or (isinstance(effect, SendMidi) and effect.data[0] in _PASSING)
