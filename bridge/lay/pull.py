"""Reading a host's markers without changing anything: a pure state machine.

Asks for the list until it is certain, by the same rules as a laying, what stands there.
This file knows nothing about sockets, files or clocks.
"""

from __future__ import annotations

from bridge.hostmap import Event, HostMap, MarkerHeard, Ruler
from bridge.lay.desk import Desk
from bridge.lay.effect import deed
from bridge.lay.listening import Listening
from bridge.lay.options import Options
from bridge.lay.pacing import Pacing
from bridge.lay.result import Result

__all__ = ["Pulling"]


class Pulling(Pacing):
    """List the markers of ``host`` until :attr:`result` is there; then :attr:`standing` has them."""

    def __init__(self, ruler: Ruler, host: HostMap, options: Options | None = None) -> None:
        super().__init__(ruler, host, options or Options(anyway=True))
        self._desk = Desk(ruler, host)
        self._tells_end = "marker_end" in host.hears
        self._listening = Listening(self.options, tells_end=self._tells_end)
        self.standing: tuple[MarkerHeard, ...] = ()
        self.certain = False
        """Whether nothing stands there that was not seen."""

    @property
    def answered(self) -> bool:
        """Whether the host ever told of a marker, or of the end of its list."""
        return self._listening.ever_answered

    def _begin(self) -> None:
        self._ask()

    def _take(self, event: Event, now: float) -> None:
        if not self._outbox:
            self._listening.hear(event, now)
            self._until = self._listening.due

    def _posted(self, now: float) -> None:
        self._listening.open(now)
        self._until = self._listening.due

    def _due(self, now: float) -> None:
        self._listening.close()
        gave_up = self._listening.silent >= self.options.listings
        if self._listening.certain or gave_up or self._is_late(now):
            is_empty = gave_up and not self.answered and not self._tells_end
            self.certain = self._listening.certain or is_empty
            self.standing = self._listening.standing()
            self.result = Result(silent=not self.answered)
        else:
            self._ask()

    def _ask(self) -> None:
        self._outbox.extend(deed(self._desk.listing()))
