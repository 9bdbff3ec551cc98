"""Where a host is reached: its map's port, or the one it reports from since it was started anew.

A host that comes back on another port is found by what it says: once questions go
unanswered, every other one is put to the port from which messages of its map have come
meanwhile, or to the map's own, until one is answered.  Anything else is sent only to the
port that answered last.  Taken for answered from a port that was not, it finds back by the
same rule.  This file knows nothing about sockets.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from bridge.hostmap import Event, HostMap, MarkerEnd, MarkerHeard, Message

__all__ = ["Route"]

_PATIENCE = 4
"""Questions in a row without an answer before another port is tried."""


@dataclass(slots=True)
class Route:
    """The way to one host: ``home`` is the IP address and port that its map says."""

    host: HostMap
    home: tuple[str, int]
    tell: Callable[[str], None]
    _current: int = field(init=False)
    """The port that answered last."""
    _asked: int = field(init=False)
    _heard_from: int | None = None
    """The port from which something came since the last answer."""
    _unanswered: int = 0

    def __post_init__(self) -> None:
        self._current = self._asked = self.home[1]

    def to(self, message: Message) -> tuple[str, int]:
        """Return where ``message`` is to go."""
        if message.address not in {said.address for said in self.host.says.get("list", ())}:
            return self.home[0], self._current
        self._unanswered += 1
        self._asked = self._current
        others = [port for port in (self._heard_from, self.home[1]) if port not in (None, self._current)]
        if self._unanswered > _PATIENCE and self._unanswered % 2 and others:
            self._asked = others[self._unanswered // 2 % len(others)] or self._current
        return self.home[0], self._asked

    def heard(self, event: Event, sender: tuple[str, int]) -> None:
        """Take that something of the host's map has come from ``sender``."""
        if not isinstance(event, MarkerHeard | MarkerEnd):
            if sender[0] == self.home[0]:
                self._heard_from = sender[1]
            return
        self._unanswered, self._heard_from = 0, None
        if self._asked != self._current:
            self._current = self._asked
            self.tell(f"note: the host answers at port {self._asked} now")
