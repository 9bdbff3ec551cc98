"""Tightening: the best split of 128 bars into whole turns, beside CP-SAT on the plain model.

Run by hand: python tests/bench/bench_tighten.py

Rows of three to seven cycles in eighths or sixteenths, shares equal in time, changes
anywhere or on barlines.  The peer is ortools' CP-SAT with one worker: a count a cycle,
the absolute misses minimised, for the rows with changes anywhere.  Both must agree.  The
seeds here were not used while the code was written.
"""

from __future__ import annotations

import random
import statistics
import time
from fractions import Fraction

from ortools.sat.python import cp_model

from bridge.craft.stages import Share, Tighten, Tightened
from bridge.craft.tighten import tighten
from bridge.exact import Length, Meters

BARS = 128
SEEDS = range(7001, 7031)
COMMON = Meters.parse("4/4")


def some_row(seed: int) -> tuple[list[int], int]:
    chance = random.Random(seed)
    return sorted(chance.sample(range(1, 20), chance.randint(3, 7)), reverse=True), chance.choice((8, 16))


def by_cp_sat(tops: list[int], unit: int) -> float | None:
    total = BARS * unit
    model = cp_model.CpModel()
    counts = [model.new_int_var(1, total, "") for _ in tops]
    model.add(sum(top * count for top, count in zip(tops, counts, strict=True)) == total)
    misses = [model.new_int_var(0, len(tops) * total, "") for _ in tops]
    for top, count, miss in zip(tops, counts, misses, strict=True):
        model.add_abs_equality(miss, len(tops) * top * count - total)
    model.minimize(sum(misses))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    if solver.solve(model) != cp_model.OPTIMAL:
        return None
    return solver.objective_value / (len(tops) * unit)


def main() -> None:
    ours: list[float] = []
    theirs: list[float] = []
    barred: list[float] = []
    for seed in SEEDS:
        tops, unit = some_row(seed)
        cycles = tuple(Length(Fraction(top, unit)) for top in tops)
        started = time.perf_counter()
        found = tighten(Tighten(cycles=cycles, share=Share.TIME), BARS, COMMON)
        ours.append(time.perf_counter() - started)
        started = time.perf_counter()
        peer = by_cp_sat(tops, unit)
        theirs.append(time.perf_counter() - started)
        mine = float(found.deviation.whole_notes) if isinstance(found, Tightened) else None
        assert (mine is None) == (peer is None), (tops, unit)
        assert mine is None or peer is None or abs(mine - peer) < 1e-6, (tops, unit, mine, peer)
        started = time.perf_counter()
        tighten(Tighten(cycles=cycles, share=Share.TIME, on_barlines=True), BARS, COMMON)
        barred.append(time.perf_counter() - started)
    print(f"{len(ours)} rows over {BARS} bars, all agreed with CP-SAT")
    for name, times in (("ours", ours), ("ours, on barlines", barred), ("CP-SAT", theirs)):
        print(
            f"  {name:<18} median {statistics.median(times) * 1e3:7.2f} ms   worst {max(times) * 1e3:7.2f} ms"
        )
    print(f"  ours over CP-SAT: {statistics.median(ours) / statistics.median(theirs):.3f} at the median")
    print(f"  the promise is 50 ms: {max(*ours, *barred) / 0.050:.2f} of it at worst")


if __name__ == "__main__":
    main()
