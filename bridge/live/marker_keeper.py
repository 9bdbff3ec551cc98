"""Markers both ways while the bridge runs: laid, laid again, answered for when they are dragged.

A saved plan is laid again.  Where the host keeps markers by time and plays at another
tempo than the plan's, ours are laid for the tempo it has, so that they stay on their bars.
A marker of ours that is dragged is answered at once; where it is to be settled, the plan
is given the nearest length at which all come home, planned and laid again.  Planning and
laying happen in other processes.  This file decides nothing about music.
"""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.errors import PulsebridgeError
from bridge.hostmap import HostMap, MarkerGone, MarkerHeard, hear
from bridge.live.following import scale_of
from bridge.live.inputs import Arrival
from bridge.live.planning import run_elsewhere
from bridge.show import AskHost
from bridge.show.dragging import Dragged, Dragging
from bridge.show.tempo_lock import TempoLock, keeps_time
from bridge.song import Song, unroll

if TYPE_CHECKING:
    from bridge.live.daemon import Daemon

__all__ = ["MarkerKeeper"]


class MarkerKeeper:
    """Keeps the markers of ``plans`` in the host that ``path`` describes.

    ``lay`` lays them; without it a drag is answered all the same, for markers that a laying
    before left there.  ``settle`` takes a drag as a wish for the nearest good place.
    """

    def __init__(
        self, daemon: Daemon, plans: list[Path], host: HostMap, path: Path, *, lay: bool, settle: bool
    ) -> None:
        self._daemon, self._plans, self._host, self._path = daemon, plans, host, path
        self._lays, self._settles = lay, settle
        self._lock = TempoLock() if keeps_time(host) and "tempo" in host.hears else None
        self._dragging: tuple[tuple[Song, float], Dragging] | None = None
        self._tasks: set[asyncio.Task[None]] = set()
        self._laying = asyncio.Lock()
        daemon.at_start.append(self._begin)
        daemon.after_saved.append(self._lay)
        daemon.taps.add(self._hear)
        daemon.quiet.append(self._look)

    def _begin(self) -> None:
        for path in self._plans if self._lays else ():
            self._start(self._lay(path))
        if not self._lays and "list" in self._host.says:
            start = self._daemon.conductor.song.sections[0].start
            self._daemon.ask_host(AskHost(due=self._daemon.now(), deed="list", place=start))

    def _hear(self, arrival: Arrival) -> None:
        """Look at what the host says of markers."""
        message = arrival.recorded.osc
        if message is None:
            return
        for meaning in hear(self._host, message):
            if isinstance(meaning, MarkerHeard | MarkerGone):
                dragged = self._watch().hear(meaning)
                if dragged is not None:
                    self._answer(dragged)

    def _watch(self) -> Dragging:
        """Return who watches the markers of the song that is played, at the tempo they are laid for."""
        song, ratio = self._daemon.conductor.song, self._ratio
        if self._dragging is None or self._dragging[0] != (song, ratio):
            self._dragging = (song, ratio), Dragging(_at(song, ratio), self._host)
        return self._dragging[1]

    @property
    def _ratio(self) -> float:
        return self._lock.ratio if self._lock is not None else 1.0

    def _answer(self, dragged: Dragged) -> None:
        choices = [
            {"bars": one.bars, "host_bar": one.host_bar, "seconds": float(one.seconds)}
            for one in dragged.choices
        ]
        cut = [{"layer": name, "share": float(share)} for name, share in dragged.cut]
        self._daemon.tell(
            "dragged",
            dragged.in_words(),
            name=dragged.name,
            marker_at=dragged.at,
            section=dragged.section,
            choices=choices,
            cut=cut,
        )
        if self._settles and dragged.choices:
            self._start(self._settle(dragged))

    async def _settle(self, dragged: Dragged) -> None:
        """Give the section the nearest good length in its plan; the saved plan is then planned and laid."""
        nearest = dragged.choices[0]
        source = self._daemon.conductor.song.plan.source
        if source is None:
            return
        code, answer = await run_elsewhere(["plan", source, f"--give={dragged.section}={nearest.bars}"])
        if code:
            why = answer["error"]["message"] if answer.get("error") else "the plan could not be satisfied"
            self._daemon.warn(f"{dragged.name} is not settled: {why}")
            return
        text = (
            f"{dragged.name} is settled at bar {nearest.host_bar}: {dragged.section} has {nearest.bars} bars"
        )
        self._daemon.tell("settled", text, section=dragged.section, bars=nearest.bars)

    def _look(self, at: float) -> None:
        """See whether the host plays at another tempo than the markers are laid for."""
        view = self._daemon.view()
        passed = self._daemon.conductor.passed
        if self._lock is None or passed is None or view.line is None or passed.is_free:
            return
        plan_bpm = float(passed.axis.bpm(self._daemon.conductor.into(view.at)))
        ratio = self._lock.hear(at, self._daemon.follower.transport(at), plan_bpm)
        if ratio is None:
            return
        self._daemon.follower.rescale(
            scale_of([_at(song, ratio) for song in self._daemon.conductor.programme.songs])
        )
        text = f"the host plays {ratio:.4g} times as fast as planned"
        if self._lays:
            text += "; the markers are laid again, to stay on their bars"
            for path in self._plans:
                self._start(self._lay(path))
        else:
            text += "; its markers are kept by time and no longer stand on their bars (--lay moves them)"
        self._daemon.tell("tempo", text, ratio=ratio)

    async def _lay(self, path: Path) -> None:
        """Lay one plan, through this very bridge; one at a time."""
        if not self._lays:
            return
        words = ["lay", str(path), "--host", str(self._path)]
        async with self._laying:
            ratio = self._ratio
            words += [f"--tempo-times={ratio:.9f}"] if ratio != 1.0 else []
            words += ["--put-back"] if self._settles else []
            code, answer = await run_elsewhere(words)
        if "placed" not in answer:
            why = (answer.get("error") or {}).get("message", "the plan could not be satisfied")
            self._daemon.warn(f"{path.name} was not laid: {why}")
            return
        failed = len(answer.get("failed", ()))
        text = f"{path.name} is laid: {answer['verified']} markers verified, {failed} failed"
        self._daemon.tell("laid", text, code=code, **answer)

    def _start(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.get_running_loop().create_task(self._guarded(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _guarded(self, work: Coroutine[Any, Any, None]) -> None:
        try:
            await work
        except PulsebridgeError as error:
            self._daemon.warn(error.message)


def _at(song: Song, ratio: float) -> Song:
    """Return the song as a host plays it that is so many times as fast."""
    if ratio == 1.0:
        return song
    times = Fraction(f"{ratio:.9f}")
    return unroll(song.plan.times_tempo(times), [placed.bars for placed in song.sections])
