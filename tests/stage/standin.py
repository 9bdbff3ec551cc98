"""A stand-in for the running bridge: the conductor leading a song on the real clock, and its stage page.

It runs on an event loop of its own in a thread, so that a browser can be driven beside it.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from bridge.errors import UsageError
from bridge.exact import Length
from bridge.plan import load
from bridge.shape import Solved, solve
from bridge.show import Conductor, Control, Tell, View
from bridge.show.programme import Programme, Spot
from bridge.song import Song, unroll
from bridge.stage import Limits, Stage

EXAMPLE = Path(__file__).parents[2] / "examples" / "low-tide-relay.yaml"
TOKEN = "a word of the evening"


@cache
def song_of(text: str) -> Song:
    """Solve the plan in ``text``."""
    plan = load(text.encode(), source="test", solved=None)
    solved = solve(plan)
    assert isinstance(solved, Solved), solved
    return unroll(plan, solved.bars)


@cache
def low_tide_relay() -> Song:
    return song_of(EXAMPLE.read_text(encoding="utf-8"))


class StandIn:
    """One show and its page; made and used on its loop."""

    def __init__(self, song: Song, *, section: int = 0, quarters: float = 0.0, plays: bool = True) -> None:
        self.conductor = Conductor(Programme((song,)), led=True)
        self.plays = plays
        self.asked: list[Control] = []
        self.change: Callable[[View], View] = lambda view: view
        """What a test makes of the view before the page sees it."""
        self.stage: Stage | None = None
        spot = Spot(song=0, section=section, into=Length(Fraction(quarters) / 4))
        self.begin = lambda: self.conductor.begin(time.monotonic(), spot=spot, count_in=0)

    def view(self) -> View:
        now = time.monotonic()
        self.conductor.wake(now)
        view = self.conductor.view(now)
        return self.change(view if self.plays else replace(view, playing=False))

    def control(self, control: Control) -> None:
        self.asked.append(control)
        effects = self.conductor.control(time.monotonic(), control)
        for effect in effects:
            if isinstance(effect, Tell) and effect.what == "refused":
                raise UsageError(effect.text)
        self.changed()

    def changed(self) -> None:
        if self.stage is not None:
            self.stage.changed()

    async def keep_awake(self) -> None:
        while True:
            due = self.conductor.wake_at
            wait = 0.05 if due is None else min(0.05, due - time.monotonic())
            await asyncio.sleep(max(0.001, wait))
            self.conductor.wake(time.monotonic())
            self.changed()

    @contextlib.asynccontextmanager
    async def served(self, port: int, *, token: str | None, limits: Limits | None) -> Any:
        async with Stage(
            view=self.view, control=self.control, listen=f"127.0.0.1:{port}", token=token, limits=limits
        ) as stage:
            self.stage = stage
            try:
                yield stage
            finally:
                self.stage = None


class Theatre:
    """A stand-in in a thread of its own; its page can be taken away and brought back."""

    def __init__(self, show: StandIn, *, token: str | None = TOKEN, limits: Limits | None = None) -> None:
        self.show = show
        self.port = 0
        self._token = token
        self._limits = limits
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._block: Any = None
        self.show.begin()
        self._awake = asyncio.run_coroutine_threadsafe(self.show.keep_awake(), self._loop)

    def run(self, work: Any) -> Any:
        """Run a coroutine on the loop and wait for it."""
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(timeout=20)

    def do(self, work: Callable[[], Any]) -> Any:
        """Call something on the loop and wait for it."""
        done: Future[Any] = Future()
        self._loop.call_soon_threadsafe(lambda: done.set_result(work()))
        return done.result(timeout=20)

    def open(self) -> str:
        """Serve the page, on the same port as before; return its address."""
        self._block = self.show.served(self.port, token=self._token, limits=self._limits)
        stage = self.run(self._block.__aenter__())
        self.port = int(stage.address.rsplit(":", 1)[1].rstrip("/"))
        self.stage = stage
        return stage.address

    def shut(self) -> None:
        """Take the page away; the show goes on."""
        if self._block is not None:
            block, self._block = self._block, None
            self.run(block.__aexit__(None, None, None))

    def close(self) -> None:
        self.shut()
        self._awake.cancel()
        self.run(asyncio.sleep(0))
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(timeout=5)
        self._loop.close()


@contextlib.contextmanager
def theatre(show: StandIn, **options: Any) -> Iterator[Theatre]:
    """Serve ``show`` for as long as the block runs."""
    found = Theatre(show, **options)
    try:
        found.open()
        yield found
    finally:
        found.close()
