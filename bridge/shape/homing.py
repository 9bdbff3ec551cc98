"""Whether a block can come home at all, from its phases alone.

This file knows nothing about seconds or costs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import gcd, lcm

import numpy as np

from bridge.shape.effort import Effort
from bridge.shape.numbers import array
from bridge.shape.piece import Piece
from bridge.shape.problem import Problem
from bridge.shape.trellis import Trellis
from bridge.shape.walk import walk
from bridge.shape.window import Window

__all__ = ["can_come_home"]

_PHASES = 1 << 14
"""Lengths a section that are tried for their phases at most."""
_PHASE_STEPS = 2_000_000


def can_come_home(problem: Problem, block: Sequence[int]) -> bool:
    """Tell whether the phases alone allow any way through the block, payoffs aside.

    Phases repeat, so of each section only the lengths up to the first whole repetition
    need trying, however long it may be; of twins, up to the first that they share.
    False is proven; True may be a plain "not known".
    """
    free = replace(problem, answers=())
    windows = []
    for index in block:
        family = [problem.pieces[at] for at in block if problem.twins[at] == problem.twins[index]]
        window = _one_of_each_phase(problem.pieces[index], family)
        if window is None:
            return True
        windows.append(window)
    found = walk(Trellis(free, block), windows, None, Effort(_PHASE_STEPS), timed=False)
    return bool(len(found.regrets)) or found.beyond is not None


def _one_of_each_phase(piece: Piece, family: Sequence[Piece]) -> Window | None:
    """List lengths until every phase of all that is counted has come up; None: too many."""
    starts, repeats = zip(*map(_repetition, family), strict=True)
    ladder = piece.ladder
    last = min(ladder.top, ladder.rung_at(max(*starts, ladder.lowest) + lcm(*repeats) + 1))
    if last - ladder.first > _PHASES:
        return None
    counts = array([ladder.bars(rung) for rung in range(ladder.first, last + 1)])
    nothing = np.zeros(len(counts), dtype=np.int64)
    return Window(bars=counts, seconds=nothing, regrets=nothing, base=0, beyond=None)


def _repetition(piece: Piece) -> tuple[int, int]:
    """Return from how many bars on the phases after a section repeat, and after how many more."""
    part = piece.part
    folds = [(home.row.first, home.row.step) for home in part.homes if home.row]
    folds += [(carried.least, carried.modulus) for carried in part.carries]
    folds += [(row.first, row.step) for _, row in part.once]
    least, modulus = max((fold[0] for fold in folds), default=0), lcm(*(fold[1] for fold in folds))
    bars = lcm(piece.ladder.period, len(part.grain.starts) - 1)
    repeat = bars * (modulus // gcd(modulus, part.grain.of_bars(bars)))
    return part.grain.bars_within(least + modulus) + 1, repeat
