"""One deed said to a host as its map has it: its messages, the waits between them, the replies awaited.

For what is no marker: moving the transport, starting, stopping, looping.  This file knows
nothing about sockets or clocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bridge.exact import Place
from bridge.hostmap import Event, HostMap, Ruler, Step
from bridge.hostmap.template import Fact
from bridge.lay.effect import Effect, deed
from bridge.lay.options import Options
from bridge.lay.pacing import Pacing
from bridge.lay.result import Result
from bridge.lay.wanted import fill_all

__all__ = ["Speaking", "steps_of"]


def steps_of(
    ruler: Ruler, host: HostMap, key: str, place: Place, *, end: Place | None = None,
    facts: Mapping[str, Fact] | None = None,
) -> tuple[Step, ...]:  # fmt: skip
    """Return what ``says.KEY`` of the map says about ``place``, up to ``end`` for a loop.

    PlanError where the map lacks the key, CannotHoldError where a field has no value that fits.
    """
    host.need(f"says.{key}", command=key)
    said = host.says[key]
    return fill_all(ruler, said, name="", place=place, index=0, handle=None, facts=facts, end=end)[0]


class Speaking(Pacing):
    """Send ``steps`` in their time; over when :attr:`result` is there."""

    def __init__(self, ruler: Ruler, host: HostMap, steps: Iterable[Step]) -> None:
        super().__init__(ruler, host, Options(anyway=True))
        self._steps = tuple(steps)
        self.was_given_up = False
        """A reply that the map awaits did not come, so the rest was left unsaid."""

    def start(self, now: float) -> list[Effect]:
        """Begin at once: the host's tempo does not matter to a deed."""
        self._started_at = self._next_send = now
        self._comparing = False
        self._warned = True
        self._outbox.extend(deed(self._steps))
        if not self._steps:
            self.result = Result()
        return self.wake(now)

    def _posted(self, now: float) -> None:
        self._until = max(now, self._next_send)

    def _due(self, now: float) -> None:  # noqa: ARG002  whatever the time is, all has been said
        self.result = Result()

    def _take(self, event: Event, now: float) -> None:
        """Nothing that the host tells changes what is said."""

    def _given_up(self) -> None:
        self.was_given_up = True
