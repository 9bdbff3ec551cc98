"""One block at one price: its cheapest way, and its table of seconds against regret.

A block is looked at within a reach of regret that grows until the cheapest way lies
inside it; it is then known to be the cheapest, as everything outside has more regret.
This file knows nothing about other blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from bridge.shape.effort import Effort
from bridge.shape.guide import Guide
from bridge.shape.homing import can_come_home
from bridge.shape.numbers import Exact, plain, taken_from
from bridge.shape.problem import Problem
from bridge.shape.tables import Table, table_of
from bridge.shape.trellis import Trellis
from bridge.shape.walk import Walk, walk
from bridge.shape.window import Price, Window, look

__all__ = ["Block", "Cheapest"]

_GROWTH = 4
_FARTHEST = 10**5
"""Seconds of regret: beyond it there is no use in widening what room had to be cut."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cheapest:
    """The cheapest way through a block: its bars and regret, and the least any way can have."""

    bars: tuple[int, ...] | None
    regret: Exact
    floor: Exact
    """Proven; it equals ``regret`` unless the steps ran out."""
    is_impossible: bool = False
    """Whether it is proven that there is no way."""


_NEVER_HOME = Cheapest(bars=None, regret=0, floor=0, is_impossible=True)


class Block:
    """The sections of one block, priced; regrets are counted from the sum of their bases."""

    def __init__(self, problem: Problem, sections: Sequence[int], price: Price, effort: Effort) -> None:
        self.sections = tuple(sections)
        self.pieces = [problem.pieces[index] for index in sections]
        self._problem = problem
        self._price = price
        self._effort = effort
        self._second = price.bottom * problem.scale.per_second * problem.scale.per_weight
        self._guide: Guide | None = None
        self._phases: Guide | None = None
        self._windows: dict[Exact | None, list[Window]] = {}
        self.base: Exact = sum((window.base for window in self.windows(0)), 0)

    @cached_property
    def _trellis(self) -> Trellis:
        return Trellis(self._problem, self.sections)

    @property
    def is_single(self) -> bool:
        """Whether it is one section on its own: every rung of its ladder is a way."""
        return len(self.pieces) == 1

    def windows(self, reach: Exact | None) -> list[Window]:
        """Return each section's lengths within ``reach``."""
        if reach not in self._windows:
            self._windows[reach] = [look(piece, self._price, reach, self._effort) for piece in self.pieces]
        return self._windows[reach]

    def cheapest(self, likely: Exact = 0) -> Cheapest:
        """Return the cheapest way, widening the reach until it is proven or the steps are spent.

        A ``likely`` regret, as found at another price, saves looking too near first.
        """
        if self.is_single:
            return Cheapest(bars=(int(self.windows(0)[0].bars[0]),), regret=0, floor=0)
        if any(not piece.weight for piece in self.pieces) and not can_come_home(self._problem, self.sections):
            return _NEVER_HOME
        first = reach = max(self._first_reach(), likely)
        while True:
            best = self._cheapest_within(reach)
            if best.is_impossible or (best.regret == best.floor and best.bars is not None):
                return best
            if best.bars is not None and best.regret < reach:
                return self._cheapest_within(best.regret)
            if reach == first and not can_come_home(self._problem, self.sections):
                return _NEVER_HOME
            is_cut = best.floor < reach and (best.bars is not None or reach > self._second * _FARTHEST)
            if is_cut or self._effort.is_spent:
                return best
            reach *= _GROWTH

    def _cheapest_within(self, reach: Exact) -> Cheapest:
        guide = self._of_phases(reach)
        found = walk(self._trellis, self.windows(reach), reach, self._effort, timed=False, guide=guide)
        self._guide = Guide.of(found.layers, found.beyond, reach) or self._guide
        return _cheapest(found)

    def _of_phases(self, reach: Exact) -> Guide | None:
        """Return a guide that leaves payoffs aside: quickly made, as it has only phases to count."""
        if not self._trellis.answers or not any(piece.part.carries for piece in self.pieces):
            return None
        guide = self._phases
        if guide is None or guide.reach is None or guide.reach < reach:
            alone = Trellis(replace(self._problem, answers=()), self.sections)
            found = walk(alone, self.windows(reach), reach, self._effort, timed=False)
            self._phases = guide = Guide.of(found.layers, found.beyond, reach)
        return guide

    def _first_reach(self) -> int:
        """Return 16 s, or 4 s in a run, where every bar is a possible length."""
        return self._second * (4 if any(piece.part.carries for piece in self.pieces) else 16)

    def table(self, floor: Exact, reach: Exact) -> Table:
        """Return what the block can last, with regrets of up to ``reach`` counted from ``floor``."""
        within = floor + reach
        windows = self.windows(within)
        if self.is_single:
            window = windows[0]
            return self._single(window)
        guide = self._guided(within)
        found = walk(self._trellis, windows, within, self._effort, timed=True, guide=guide)

        def pick(way: int) -> list[tuple[int, int]]:
            return list(zip(self.sections, found.bars(way), strict=True))

        beyond = None if found.beyond is None else max(0, found.beyond - floor)
        return table_of(found.seconds, -taken_from(floor, found.regrets), pick, beyond)

    def _guided(self, reach: Exact) -> Guide | None:
        """Return a guide that reaches at least so far, made anew where the last one does not."""
        if self._guide is None or self._guide.reach is None or self._guide.reach < reach:
            self._cheapest_within(reach)
        guide = self._guide
        if guide is None or guide.reach is None or guide.reach < reach:
            return self._of_phases(reach)
        return guide

    def _single(self, window: Window) -> Table:
        section = self.sections[0]
        return Table(
            seconds=window.seconds,
            regrets=window.regrets,
            pick=lambda entry: [(section, int(window.bars[entry]))],
            beyond=window.beyond,
        )


def _cheapest(found: Walk) -> Cheapest:
    if not len(found.regrets):
        return Cheapest(bars=None, regret=0, floor=found.beyond or 0, is_impossible=found.beyond is None)
    way = int(found.regrets.argmin())
    regret = plain(found.regrets[way])
    floor = regret if found.beyond is None else min(regret, found.beyond)
    return Cheapest(bars=tuple(found.bars(way)), regret=regret, floor=floor)
