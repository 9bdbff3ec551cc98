"""The precise timer on a real loop, and its virtual counterpart."""

from __future__ import annotations

import asyncio
import gc
import sys
import time

from bridge.clock.calm import Calm
from bridge.clock.priority import FirstInLine
from bridge.clock.timer import PreciseTimer, VirtualTimer


def rung(dues: list[float], *, tries: int = 5) -> list[float]:
    """Return how late each ring was."""

    async def go() -> list[float]:
        loop = asyncio.get_running_loop()
        ended = loop.create_future()
        start, late = time.monotonic(), []

        def ring() -> None:
            late.append(time.monotonic() - start - dues[len(late)])
            if len(late) == len(dues):
                ended.set_result(None)
            else:
                timer.set(start + dues[len(late)])

        timer = PreciseTimer(loop, ring)
        timer.set(start + dues[0])
        await asyncio.wait_for(ended, 60)
        return late

    return asyncio.run(go())


def test_it_never_rings_early() -> None:
    assert min(rung([0.001 * n for n in range(1, 40)])) >= 0


def test_what_has_passed_rings_at_once_and_in_order() -> None:
    assert len(rung([-1.0, -0.5, 0.0])) == 3


def test_most_rings_come_within_a_fraction_of_the_loops_own_lateness() -> None:
    """A starved machine may hold back every one of them: it is tried again."""
    for _ in range(5):
        late = sorted(rung([0.004 * n for n in range(1, 60)]))
        if late[len(late) // 2] < 0.0003:
            return
    with FirstInLine() as first:
        late = sorted(rung([0.004 * n for n in range(1, 60)]))
    assert not first.granted or late[len(late) // 2] < 0.005


def test_setting_anew_forgets_what_was_set() -> None:
    async def go() -> list[float]:
        ended = asyncio.get_running_loop().create_future()
        rings: list[float] = []

        def ring() -> None:
            rings.append(time.monotonic())
            ended.set_result(None)

        timer = PreciseTimer(asyncio.get_running_loop(), ring)
        start = time.monotonic()
        timer.set(start + 30)
        timer.set(start + 0.002)
        timer.set(start + 0.004)
        await asyncio.wait_for(ended, 20)
        timer.set(start + 30)
        timer.close()
        return [at - start for at in rings]

    (at,) = asyncio.run(go())
    assert 0.004 <= at < 20


def test_a_virtual_timer_rings_at_each_time_on_the_way() -> None:
    rings: list[float] = []

    def ring() -> None:
        rings.append(timer.now())
        if timer.now() < 5:
            timer.set(timer.now() + 1)

    timer = VirtualTimer(ring, start=1.0)
    timer.set(2.0)
    timer.pass_to(1.5)
    assert rings == []
    timer.pass_to(10)
    assert rings == [2.0, 3.0, 4.0, 5.0]
    assert timer.now() == 10
    timer.set(9)
    timer.pass_to(10)
    assert rings[-1] == 10
    timer.set(11)
    timer.close()
    timer.pass_to(12)
    assert len(rings) == 5


def test_calm_collects_garbage_in_gaps_only_and_leaves_no_trace() -> None:
    before = gc.isenabled(), sys.getswitchinterval()
    collected: list[int] = []

    def count(phase: str, info: dict[str, int]) -> None:
        if phase == "start":
            collected.append(info["generation"])

    with Calm() as calm:
        assert not gc.isenabled()
        assert sys.getswitchinterval() < 0.001
        gc.callbacks.append(count)
        try:
            kept = [[n] for n in range(5_000)]
            calm.tidy(0.001)
            assert collected == []
            calm.tidy(0.1)
            assert collected == [1]
            calm.tidy(0.1)
            assert collected == [1]  # nothing new
            kept = [[n] for n in range(60_000)]
            calm.tidy(0.0)
            assert collected == [1, 1]  # so many that memory matters more
        finally:
            gc.callbacks.remove(count)
        assert kept
    assert (gc.isenabled(), sys.getswitchinterval()) == before
    assert gc.get_freeze_count() == 0


def test_being_first_in_line_is_given_back() -> None:
    if sys.platform != "linux":
        with FirstInLine() as first:
            assert not first.granted
        return
    import os

    before = os.sched_getscheduler(0)
    with FirstInLine() as first:
        assert first.granted == (os.sched_getscheduler(0) != before)
    assert os.sched_getscheduler(0) == before
