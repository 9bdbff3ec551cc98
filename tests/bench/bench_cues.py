"""Cue lateness: our timer beside plain asyncio.sleep, idle and with one core kept busy.

    python tests/bench/bench_cues.py [SECONDS]

Targets: p99 over the peer's at most 0.15, idle and busy; at most 4 % of a core at 200 cues
a second.  Peer and ours take turns in the same run.  Then what the garbage collector and
the switch interval are worth (bridge/clock/calm.py), each with and without.
"""

from __future__ import annotations

import asyncio
import gc
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from bridge.clock.calm import Calm
from bridge.clock.priority import FirstInLine
from bridge.clock.timer import PreciseTimer

RATE = 200
TURNS = 6
SHARES = {"p50": 0.5, "p99": 0.99, "worst": 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    late: list[float]
    cpu: float
    """Seconds of a core."""
    lasted: float

    def at(self, share: float) -> float:
        return sorted(self.late)[int(share * (len(self.late) - 1))] * 1e3

    def __str__(self) -> str:
        late = ", ".join(f"{name} {self.at(share):.3f}" for name, share in SHARES.items())
        return f"{late} ms, CPU {self.cpu / self.lasted:.1%}"

    def __add__(self, other: Run) -> Run:
        return Run(late=self.late + other.late, cpu=self.cpu + other.cpu, lasted=self.lasted + other.lasted)


def measured(waits: Callable[[list[float]], list[float]], seconds: float) -> Run:
    start, spent = time.monotonic() + 0.05, time.process_time()
    due = [start + n / RATE for n in range(int(seconds * RATE))]
    late = waits(due)
    return Run(late=late, cpu=time.process_time() - spent, lasted=time.monotonic() - start)


def by_sleep(due: list[float]) -> list[float]:
    async def go() -> list[float]:
        late = []
        for at in due:
            await asyncio.sleep(at - time.monotonic())
            late.append(time.monotonic() - at)
        return late

    return asyncio.run(go())


def by_timer(due: list[float], after: Callable[[float], None] = lambda _: None) -> list[float]:
    """``after`` is called after each cue with the seconds until the next."""

    async def go() -> list[float]:
        loop = asyncio.get_running_loop()
        ended = loop.create_future()
        late: list[float] = []

        def ring() -> None:
            late.append(time.monotonic() - due[len(late)])
            if len(late) == len(due):
                ended.set_result(None)
                return
            after(due[len(late)])
            timer.set(due[len(late)])

        timer = PreciseTimer(loop, ring)
        timer.set(due[0])
        await ended
        return late

    return asyncio.run(go())


@contextmanager
def busy_core() -> Iterator[None]:
    child = subprocess.Popen([sys.executable, "-c", "while True: pass"])
    try:
        yield
    finally:
        child.kill()
        child.wait()


@contextmanager
def busy_thread() -> Iterator[None]:
    ended = threading.Event()

    def spin() -> None:
        while not ended.is_set():
            sum(range(200))

    thread = threading.Thread(target=spin)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


def beside(title: str, seconds: float) -> None:
    """Peer, ours, and ours first in line, in turns; the ratios of their p99."""
    rows: dict[str, Run] = {}
    for _ in range(TURNS):
        _add(rows, "asyncio.sleep", measured(by_sleep, seconds))
        _add(rows, "ours", measured(by_timer, seconds))
        with FirstInLine() as first:
            if first.granted:
                _add(rows, "ours, first in line", measured(by_timer, seconds))
    print(title)
    for name, run in rows.items():
        ratio = run.at(0.99) / rows["asyncio.sleep"].at(0.99)
        print(f"  {name:<20} {run}; p99 over the peer's {ratio:.3f}")
    print("  limits: ratio 0.15, CPU 4 %")


def _add(rows: dict[str, Run], name: str, run: Run) -> None:
    rows[name] = rows[name] + run if name in rows else run


def garbage(seconds: float) -> None:
    """Half a million live objects and a cyclic litter with each cue."""
    live = [{"n": [n]} for n in range(250_000)]

    def litter() -> None:
        for _ in range(40):
            ring: list[object] = []
            ring.append(ring)

    def plainly(_: float) -> None:
        litter()

    began = time.monotonic()
    gc.collect()
    print(f"garbage: a full collection of them takes {(time.monotonic() - began) * 1e3:.0f} ms")
    print("garbage: 250,000 live dicts, 40 cycles of litter a cue")
    print(f"  automatic              {measured(lambda due: by_timer(due, plainly), seconds)}")
    with Calm() as calm:

        def calmly(due: float) -> None:
            litter()
            calm.tidy(due - time.monotonic())

        print(f"  frozen, in quiet gaps  {measured(lambda due: by_timer(due, calmly), seconds)}")
    del live
    gc.collect()


def switching(seconds: float) -> None:
    print("a busy Python thread in the same process")
    for interval in (0.005, 0.0005, 0.0001):
        before = sys.getswitchinterval()
        sys.setswitchinterval(interval)
        with busy_thread():
            run = measured(by_timer, seconds)
        sys.setswitchinterval(before)
        print(f"  switch interval {interval * 1e3:g} ms: {run}")


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 5.0
    beside("idle", seconds)
    with busy_core():
        beside("one core busy", seconds)
    garbage(seconds)
    switching(seconds)


if __name__ == "__main__":
    main()
