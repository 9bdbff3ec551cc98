"""Markers kept in seconds, and a host that plays at another tempo than the plan's.

A host that keeps markers by time does not move them when its tempo changes: at twice the
tempo a section's marker stands in the middle of the bars before it.  So ours have to be
laid again for the tempo that the host now has, and stand on their bars.  It is the ratio
of the two tempi that is watched, where the host stands: a tempo that the plan itself
changes is no news.  This file knows nothing about sockets, and lays nothing.
"""

from __future__ import annotations

from bridge.follow import Source, Transport
from bridge.hostmap import HostMap

__all__ = ["TempoLock", "keeps_time"]

_STEADY = 1.5
"""Seconds for which a new tempo has to hold before markers are moved for it."""
_SAME = 0.0005
"""Two tempi that differ by less than this share are one: at ten minutes it is 0.3 s, and is told."""
_MOST, _LEAST = 4.0, 0.25


def keeps_time(host: HostMap) -> bool:
    """Tell whether the host is told by time where a marker stands, so that tempo matters."""
    said = host.says.get("place", ())
    return any(field.unit is not None and field.unit.of_time for one in said for field in one.fields)


class TempoLock:
    """Watches by how much a host's tempo differs from the plan's."""

    def __init__(self) -> None:
        self.ratio = 1.0
        """The host's tempo over the plan's, as markers have been laid for it."""
        self._candidate = 1.0
        self._since = 0.0

    def hear(self, at: float, transport: Transport, plan_bpm: float) -> float | None:
        """Take the host's tempo and the plan's at the same place; return a ratio to lay anew for."""
        if transport.bpm is None or transport.source is not Source.OSC:
            return None  # a tempo that is measured wavers; markers are not moved for that
        ratio = transport.bpm / plan_bpm
        if not _LEAST <= ratio <= _MOST:
            return None
        if abs(ratio / self._candidate - 1) > _SAME:
            self._candidate, self._since = ratio, at
        if at - self._since < _STEADY or abs(self._candidate / self.ratio - 1) <= _SAME:
            return None
        self.ratio = self._candidate
        return self.ratio
