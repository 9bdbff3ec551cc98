"""The planner beside CP-SAT, one worker, on the same songs: medians, tails and what is proven.

Run by hand: python tests/bench/bench_planner.py [rows...].  The songs are those of
tests/shape/songs.py, where every share is stated; the seeds here (from 5000) were not
used for tuning.  Both sides are warm: imports and one solve come first, and CP-SAT's
time is that of its solver alone, without the building of its model.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[2]))

from ortools.sat.python import cp_model

from bridge.shape import Solved, solve
from tests.shape.cp_model import CpModel
from tests.shape.songs import song

ROWS = {
    "16": {"sections": 16, "songs": 60, "limit": 3},
    "16-runs": {"sections": 16, "songs": 40, "limit": 5, "runs": True},
    "64": {"sections": 64, "songs": 16, "limit": 5},
    "200": {"sections": 200, "songs": 4, "limit": 10, "tempi": (1,), "hard": False},
}
FIRST_SEED = 5000


def main(rows: list[str], first: int = FIRST_SEED) -> None:
    solve(song(1, 16))
    for name in rows or ROWS:
        row = dict(ROWS[name])
        for tempi in row.pop("tempi", (1, 2, 3)):
            measure(name, tempi, first, **row)


def measure(
    name: str, tempi: int, first: int, *, sections: int, songs: int, limit: float, **kinds: bool
) -> None:
    ours, theirs, proven, proven_theirs, gaps, left_out = [], [], 0, 0, [], 0
    for seed in range(first, first + songs):
        plan = song(seed, sections, tempi=tempi, **kinds)
        started = time.perf_counter()
        found = solve(plan)
        lasted = time.perf_counter() - started
        if not isinstance(found, Solved):
            left_out += 1
            continue
        ours.append(lasted * 1000)
        proven += found.proven
        gaps.append(float(found.gap))
        model = CpModel(plan, cp_model, 420)
        started = time.perf_counter()
        status, best, _ = model.solve(limit)
        theirs.append((time.perf_counter() - started) * 1000)
        proven_theirs += status == "OPTIMAL"
        if status == "OPTIMAL" and (best < found.bound or (found.proven and best != found.cost)):
            print(f"  DISAGREE at seed {seed}: ours {found.cost}, CP-SAT {best}")
    if not ours:
        return
    print(
        f"{name:8} {tempi} tempi, {len(ours)} songs ({left_out} impossible):"
        f" median {median(ours):.1f} ms against {median(theirs):.1f} = {median(ours) / median(theirs):.2f};"
        f" p95 {tail(ours):.1f} against {tail(theirs):.1f} = {tail(ours) / tail(theirs):.2f};"
        f" max {max(ours):.0f}; proven {proven}/{len(ours)} against {proven_theirs}/{len(ours)};"
        f" worst gap {max(gaps):.3%}",
        flush=True,
    )


def tail(values: list[float]) -> float:
    return sorted(values)[max(0, -(-95 * len(values) // 100) - 1)]


if __name__ == "__main__":
    main(sys.argv[1:])
