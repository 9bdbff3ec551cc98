"""Alignments: 8 layers, one hour at 115.2, exact, beside the same question in numpy floats.

Run by hand: python tests/bench/bench_alignment.py

The alignments are all instants in the hour at which all eight layers are home (full
meetings, start offsets included).  The peer is what one writes in numpy: the homes of
the slowest layer as floats, kept where every other layer's phase is within 1e-6 of a
home.  Both start from the cycles and starts as given and end with the list of instants.
A second row asks for every instant at which two or more are home, with who is: the peer
does the same pair by pair and joins with numpy.unique.  The seeds here were not used
while the code was written.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from fractions import Fraction
from itertools import combinations

import numpy as np

from bridge.cycles import Layer, meetings, on_the_way
from bridge.exact import Length

HOUR = Length(Fraction(3600) * Fraction("115.2") / 240)
BEFORE = Length(-1)  # a meeting at the start counts too
ROUNDS = 200
SEEDS = range(9001, 9009)
TURNS = [Fraction(n, d) for n, d in ((3, 16), (1, 4), (3, 8), (1, 2), (5, 8), (3, 4), (7, 8), (1, 1), (5, 4))]
TURNS += [Fraction(n, d) for n, d in ((3, 2), (7, 4), (2, 1), (4, 1), (9, 8), (7, 16), (5, 16))]


def some_layers(seed: int) -> tuple[Layer, ...]:
    chance = random.Random(seed)
    together = Fraction(chance.randrange(32), 16)
    found = []
    for index, turn in enumerate(chance.sample(TURNS, 8)):
        start = together % turn  # so that the eight meet at all
        found.append(Layer(name=f"layer {index}", cycle=Length(turn), start=Length(start)))
    return tuple(found)


def floats(layers: tuple[Layer, ...]) -> list[tuple[float, float]]:
    return [(float(one.start.whole_notes), float(one.turn.whole_notes)) for one in layers]


def by_numpy(pairs: list[tuple[float, float]], end: float) -> np.ndarray:
    (start, turn), *others = sorted(pairs, key=lambda pair: -pair[1])
    at = np.arange(start, end, turn)
    for start, turn in others:
        phase = (at - start) / turn
        at = at[(np.abs(phase - np.rint(phase)) < 1e-6) & (phase > -1e-6)]
    return at


def pairs_by_numpy(pairs: list[tuple[float, float]], end: float) -> tuple[np.ndarray, np.ndarray]:
    times, who = [], []
    for (i, one), (j, other) in combinations(enumerate(pairs), 2):
        at = by_numpy([one, other], end)
        times.append(np.rint(at * 1e6))
        who.append(np.full(len(at), 1 << i | 1 << j))
    instants, index = np.unique(np.concatenate(times), return_inverse=True)
    masks = np.zeros(len(instants), dtype=int)
    np.bitwise_or.at(masks, index, np.concatenate(who))
    return instants, masks


def microseconds(ask: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        ask()
        times.append(time.perf_counter() - begun)
    return statistics.median(times) * 1e6


def ours(layers: tuple[Layer, ...]) -> list[Length]:
    row = meetings(layers)
    if row is None:
        return []
    return list(row.between(BEFORE, HOUR))


def main() -> None:
    global ROUNDS  # noqa: PLW0603  the second row is a hundred times the work
    for title, mine, peer in (
        ("all eight together", ours, by_numpy),
        ("two or more, and who", lambda layers: list(on_the_way(layers, after=Length(0), before=HOUR)), None),
    ):
        ratios = []
        print(title)
        for seed in SEEDS:
            layers = some_layers(seed)
            end = float(HOUR.whole_notes)
            its = peer or pairs_by_numpy
            count, theirs = len(mine(layers)), its(floats(layers), end)
            a = microseconds(lambda: mine(layers))  # noqa: B023
            b = microseconds(lambda: its(floats(layers), end))  # noqa: B023
            ratios.append(a / b)
            peers = len(theirs) if peer else len(theirs[0])
            print(
                f"  seed {seed}: ours {count:6} in {a:9.1f} us; numpy {peers:6} in {b:9.1f} us; {a / b:6.2f}"
            )
        print(f"  median ratio {statistics.median(ratios):.2f}, worst {max(ratios):.2f}")
        ROUNDS = 5
    print("target: the first at most 2.00")


if __name__ == "__main__":
    main()
