"""Doing what the conductor wants, in its order: keep, send, ask the host, tell, plan anew.

Decides nothing.  Times are seconds of the steady clock.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from bridge.clock.wall import WallClock
from bridge.live.host_line import HostLine
from bridge.live.outputs import Outputs
from bridge.show import AskHost, Effect, Keep, Memory, Replan, Tell
from bridge.song import Song
from bridge.store.journal import Journal

__all__ = ["Performer"]


@dataclass(slots=True)
class Performer:
    """Does effects, each at its time."""

    outputs: Outputs
    wall: WallClock
    report: Callable[[dict[str, Any]], None]
    """Gets a record of everything that people and programs should know."""
    song: Callable[[], Song]
    """The song that the host is asked about."""
    replan: Callable[[Replan], None]
    journal: Journal | None = None
    host: HostLine | None = None
    _asks: list[tuple[float, int, AskHost, Song]] = field(default_factory=list)
    _count: Any = field(default_factory=count)

    @property
    def wake_at(self) -> float | None:
        """When :meth:`wake` is to be called; None while nothing waits."""
        times = [self.outputs.wake_at, self._asks[0][0] if self._asks else None]
        times.append(self.host.wake_at if self.host else None)
        return min((at for at in times if at is not None), default=None)

    def take(self, effects: Iterable[Effect]) -> list[Tell]:
        """Take effects; return what was told."""
        told = []
        for effect in effects:
            match effect:
                case Keep(memory=memory):
                    self._keep(memory)
                case AskHost():
                    heapq.heappush(self._asks, (effect.due, next(self._count), effect, self.song()))
                case Tell():
                    self._tell(effect)
                    told.append(effect)
                case Replan():
                    self.replan(effect)
                case _:
                    self.outputs.take([effect])
        return told

    def wake(self, now: float) -> None:
        """Do what is due by ``now``: what goes out first, then the host."""
        self.outputs.wake(now)
        while self._asks and self._asks[0][0] <= now:
            _, _, asked, song = heapq.heappop(self._asks)
            if self.host is not None:
                self.host.ask(asked, song, now)
                self._log_deed(asked, now)
        if self.host is not None:
            self.host.wake(now)

    def _keep(self, memory: Memory) -> None:
        if self.journal is not None:
            self.journal.keep(memory, wall=self.wall.at(memory.at))

    def _tell(self, tell: Tell) -> None:
        self.report({"event": tell.what, "at": self.wall.at(tell.at), "text": tell.text, **tell.data})

    def _log_deed(self, asked: AskHost, now: float) -> None:
        place = str(asked.place.whole_notes)
        due, actual = self.wall.at(asked.due), self.wall.at(now)
        self.report({"event": "asked", "deed": asked.deed, "place": place, "due": due, "actual": actual})
