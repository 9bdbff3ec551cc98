"""New forms of the song while it is played: of a plan that was saved, of a rest planned anew.

A saved change is taken over at once where nothing that has been played or is being played
differs, at the next section where only the one that is being played does, and otherwise
when nothing plays.  This file decides nothing about the music, and plans nothing itself.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine, Iterable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.errors import PulsebridgeError
from bridge.live.planning import PlanFile, solved_elsewhere
from bridge.live.replanning import Refused, replan
from bridge.show import Replan, Tell
from bridge.song import PlacedSection, Song

if TYPE_CHECKING:
    from bridge.live.daemon import Daemon

__all__ = ["NewForms"]


class NewForms:
    """Watches the plans of a running bridge, and has them worked out elsewhere."""

    def __init__(self, daemon: Daemon) -> None:
        self._daemon = daemon
        self._files = [PlanFile(path) for path in daemon.settings.plans]
        self._tempi = dict(daemon.settings.tempi)
        self._tasks: set[asyncio.Task[None]] = set()
        self._waiting: tuple[int, Song] | None = None
        """A form of a song that cannot be taken over yet."""

    async def close(self) -> None:
        """End what is under way."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def poll(self) -> None:
        """See whether a plan was saved."""
        for file in self._files:
            if file.changed():
                self._start(self._saved(file))
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
        except Refused as error:
            self._daemon.warn(f"the rest of the song stays as it was: {error}")

    async def _saved(self, file: PlanFile) -> None:
        name = file.path.name
        self._daemon.tell("planning", f"{name} was saved; it is being planned")
        song, tempo = await solved_elsewhere(file.path, effort=self._daemon.settings.effort)
        self._keep_tempo(file, tempo)
        self._waiting = (self._number_of(file), song)
        self._take_over(at_boundary=False)
        if self._waiting is not None:
            text = f"{name} is planned; it is taken over when the section ends, or the host stops"
            self._daemon.tell("planned", text)
        for after in self._daemon.after_saved:
            await after(file.path)

    def _keep_tempo(self, file: PlanFile, tempo: Fraction | None) -> None:
        if tempo is None:
            self._tempi.pop(file.path, None)
        else:
            self._tempi[file.path] = tempo

    def _number_of(self, file: PlanFile) -> int:
        """Return which song of the programme a plan file is: a set stands in the host's order."""
        sources = [song.plan.source for song in self._daemon.conductor.programme.songs]
        return sources.index(str(file.path))

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
        song, effort = self._daemon.conductor.programme.songs[asked.song], self._daemon.settings.effort
        path = Path(song.plan.source or "")
        offer = await replan(path, played=asked.played, tempo=self._tempi.get(path), effort=effort)
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
