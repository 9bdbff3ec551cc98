"""New forms of the song while it is played: of a plan that was saved, of a rest planned anew.

A saved change is taken over at once where nothing that has been played or is being played
differs, at the next section where only the one that is being played does, and otherwise
when nothing plays.  This file decides nothing about the music, and plans nothing itself.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine, Iterable
from typing import TYPE_CHECKING, Any

from bridge.errors import PulsebridgeError
from bridge.live.planning import PlanFile, solved_elsewhere
from bridge.live.rest import rest_elsewhere
from bridge.show import Replan, Tell
from bridge.song import PlacedSection, Song

if TYPE_CHECKING:
    from bridge.live.daemon import Daemon

__all__ = ["Replanner"]


class Replanner:
    """Watches the plans of a running bridge, and has them worked out elsewhere."""

    def __init__(self, daemon: Daemon) -> None:
        self._daemon = daemon
        self._files = [PlanFile(path) for path in daemon.settings.plans]
        self._tasks: set[asyncio.Task[None]] = set()
        self._waiting: tuple[int, Song] | None = None
        """A form of a song that cannot be taken over yet."""
        self.after_saved: list[Any] = []
        """Coroutine functions, called with the path of a plan that was taken over."""

    async def close(self) -> None:
        """End what is under way."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def poll(self) -> None:
        """See whether a plan was saved."""
        for number, file in enumerate(self._files):
            if file.changed():
                self._start(self._saved(number, file))
        if self._waiting is not None and not self._daemon.view().playing:
            self._take_over(at_boundary=True)

    def look(self, told: Iterable[Tell]) -> None:
        """See what has just happened: a section that begins is the place for what waits."""
        if self._waiting is not None and any(tell.what in ("section", "stopped", "end") for tell in told):
            self._take_over(at_boundary=True)

    def replan(self, asked: Replan) -> None:
        """Have the rest of the song planned anew, and offer it."""
        self._start(self._rest(asked))

    def _start(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.create_task(self._guarded(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _guarded(self, work: Coroutine[Any, Any, None]) -> None:
        try:
            await work
        except PulsebridgeError as error:
            self._daemon.warn(f"the plan stays as it was: {error.message}")

    async def _saved(self, number: int, file: PlanFile) -> None:
        self._daemon.report({"event": "planning", "text": f"{file.path.name} was saved; planning it"})
        song = await solved_elsewhere(file.path, effort=self._daemon.settings.effort)
        self._waiting = (self._number_of(number, song), song)
        self._take_over(at_boundary=False)
        if self._waiting is not None:
            text = f"{file.path.name} is planned; it is taken over when the section ends, or the host stops"
            self._daemon.report({"event": "plan", "text": text})
        for after in self.after_saved:
            await after(file.path)

    def _number_of(self, number: int, song: Song) -> int:
        """Return which song of the programme a plan file is: a set stands in the host's order."""
        songs = self._daemon.conductor.programme.songs
        titles = [one.plan.title for one in songs]
        return titles.index(song.plan.title) if titles.count(song.plan.title) == 1 else number

    def _take_over(self, *, at_boundary: bool) -> None:
        assert self._waiting is not None  # noqa: S101  looked at by the callers
        (number, song), view = self._waiting, self._daemon.view()
        fits = not view.playing or view.section is None or number != view.number
        if not fits and view.section is not None:
            begun = view.section if at_boundary else view.section + 1
            fits = _same(view.song, song, begun)
        if fits:
            self._waiting = None
            self._daemon.replace(number, song)

    async def _rest(self, asked: Replan) -> None:
        song = self._daemon.conductor.programme.songs[asked.song]
        offer = await rest_elsewhere(song, asked.played, effort=self._daemon.settings.effort)
        if song is self._daemon.conductor.song:
            self._daemon.offer(offer)


def _same(before: Song, after: Song, count: int) -> bool:
    """Tell whether the first ``count`` sections of two songs are played alike."""
    pairs = zip(before.sections[:count], after.sections[:count], strict=False)
    return min(len(before.sections), len(after.sections)) >= count and all(
        _alike(one, other) for one, other in pairs
    )


def _alike(one: PlacedSection, other: PlacedSection) -> bool:
    return (one.name, one.start, one.length, one.section.tempo, one.section.meters, one.parts) == (
        other.name,
        other.start,
        other.length,
        other.section.tempo,
        other.section.meters,
        other.parts,
    )
