"""One move through a block: from the labels before a section to those after it.

This file knows nothing about which moves come before or after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bridge.shape.effort import Effort
from bridge.shape.numbers import (
    Array,
    Exact,
    added,
    array,
    codes,
    is_wide,
    least_of_each,
    left_over,
    plain,
    times,
)
from bridge.shape.phases import first_meeting
from bridge.shape.trellis import TIME, Column, Labels, LeftOut, Stage, Trellis
from bridge.shape.window import Window

__all__ = ["Move"]


class Move:
    """From the labels before one section to those after it."""

    def __init__(self, trellis: Trellis, stage: Stage, window: Window, before: Labels, timed: bool) -> None:
        self._trellis = trellis
        self._stage = stage
        self._before = before
        self._timed = timed
        self._part = stage.piece.part
        grains = self._counted(window.bars)
        kept = self._distinct(grains, window.regrets)
        self._bars = window.bars[kept]
        self._seconds = window.seconds[kept]
        self._grains = grains[kept]
        self._regrets = window.regrets[kept]

    def made(self, reach: Exact | None, effort: Effort, left_out: LeftOut) -> Labels:
        """Return the labels after the section, with what was left out noted in ``left_out``."""
        one, other = self._pairs(reach, effort, left_out)
        regrets = added(self._before.regrets[one], self._regrets[other])
        allowed = self._allowed(one, other)
        if reach is not None:
            near = regrets <= reach
            if not near.all():
                left_out.note(reach)
            allowed &= near.astype(bool)
        one, other, regrets = one[allowed], other[allowed], regrets[allowed]
        columns = self._columns(one, other)
        code = codes(list(columns.values()), len(one))
        kept = least_of_each(code, regrets)
        edges = None
        if not self._timed:
            edges = one, np.searchsorted(code[kept], code), self._regrets[other]
        return Labels(
            edges=edges,
            columns={name: column[kept] for name, column in columns.items()},
            regrets=regrets[kept],
            parents=one[kept],
            bars=self._bars[other[kept]],
        )

    def _counted(self, bars: Array) -> Array:
        """Return the grains in each number of bars, wide where a cycle is too long for 64 bits."""
        starts = self._part.grain.starts
        row = len(starts) - 1
        grains = added(times(bars // row, starts[-1]), array(starts)[bars % row])
        cycles = [home.row.first + home.row.step for home in self._part.homes if home.row]
        cycles += [carried.least + carried.modulus for carried in self._part.carries]
        return grains if all(cycle < 1 << 60 for cycle in cycles) else grains.astype(object)

    def _distinct(self, grains: Array, regrets: Array) -> Array:
        """Of lengths that nothing later can tell apart, keep the one with the least regret."""
        stage, part = self._stage, self._part
        told_apart = self._timed or stage.answers or part.once or stage.twin is not None
        if told_apart or any(built for _, built in stage.open_after) or self._is_remembered():
            return np.arange(len(grains))
        folds = [(home.row.first, home.row.step) for home in part.homes if home.row]
        folds += [(carried.least, carried.modulus) for carried in part.carries]
        columns = []
        for least, modulus in folds:
            columns += [np.minimum(grains, least), grains % modulus]
        return np.sort(least_of_each(codes(columns, len(grains)), regrets))

    def _is_remembered(self) -> bool:
        return self._stage.piece.index in self._stage.remembers

    def _pairs(self, reach: Exact | None, effort: Effort, left_out: LeftOut) -> tuple[Array, Array]:
        """Return labels and lengths to be tried together, the labels of least regret first."""
        wide = is_wide(self._before.regrets) or is_wide(self._regrets)
        order = np.argsort(self._before.regrets, kind="stable")
        if self._stage.twin is not None:
            groups = _Groups.by_key(
                self._bars, self._regrets, self._before.columns["bars", self._stage.twin][order]
            )
        elif any(home.row is None for home in self._part.homes):
            return order[:0], order[:0]
        elif self._part.homes:
            groups = self._by_home(order)
        else:
            groups = _Groups.of_all(self._regrets, self._before.regrets[order], reach)
            if groups.is_cut:
                left_out.note(reach)
        counts = groups.counts
        room = effort.room(wide=wide)
        if counts.sum() > room:
            shown = max(1, int(np.searchsorted(np.cumsum(counts), room, side="right")))
            if shown < len(order):
                left_out.note(plain(self._before.regrets[order[shown]]))
            order, counts = order[:shown], counts[:shown]
        effort.take(int(counts.sum()) + len(order), wide=wide)
        return np.repeat(order, counts), groups.members(counts)

    def _by_home(self, order: Array) -> _Groups:
        """Join labels to the lengths that bring one carried entry home: the one that says most."""
        home = max(self._part.homes, key=lambda home: home.row.step if home.row else 0)
        if home.row is None:
            raise ValueError("a row that is never home joins nothing")
        counts = self._before.columns["phase", home.entry][order]
        return _Groups.by_key(
            self._grains % home.row.step, self._regrets, (home.row.first - counts) % home.row.step
        )

    def _allowed(self, one: Array, other: Array) -> Array:
        allowed = np.ones(len(one), dtype=bool)
        for home in self._part.homes:
            if home.row is None:
                allowed[:] = False
                return allowed
            ends = added(self._before.columns["phase", home.entry][one], self._grains[other])
            allowed &= ((ends >= home.row.first) & ((ends - home.row.first) % home.row.step == 0)).astype(
                bool
            )
        for number in self._stage.answers:
            answer = self._trellis.answers[number]
            built = times(self._before.columns["sum", number][one], answer.share)
            allowed &= (times(self._seconds[other], answer.times) >= built).astype(bool)
        limits = self._limits()
        if limits is not None:
            allowed &= (self._grains[other] <= limits[one]).astype(bool)
        return allowed

    def _limits(self) -> Array | None:
        """Return for each label the grains up to which the layers do not meet too early."""
        once = self._part.once
        if all(entry == self._stage.piece.index for entry, _ in once):
            return None
        entries = sorted({entry for entry, _ in once})
        columns = [self._counts(entry) for entry in entries]
        limits: list[int] = []
        seen: dict[tuple[int, ...], int] = {}
        longest = int(self._grains.max()) if len(self._grains) else 0
        for counts in zip(*(column.tolist() for column in columns), strict=True):
            if counts not in seen:
                count_of = dict(zip(entries, counts, strict=True))
                meeting = first_meeting((count_of[entry], row) for entry, row in once)
                seen[counts] = longest if meeting is None else min(longest, meeting)
            limits.append(seen[counts])
        return array(limits)

    def _counts(self, entry: int) -> Array:
        """Return each label's count since ``entry``; 0 where that is this section."""
        if entry == self._stage.piece.index:
            return np.zeros(len(self._before.regrets), dtype=np.int64)
        return self._before.columns["phase", entry]

    def _columns(self, one: Array, other: Array) -> dict[Column, Array]:
        before, stage = self._before.columns, self._stage
        columns: dict[Column, Array] = {}
        for carried in self._part.carries:
            ends = added(self._counts(carried.entry)[one], self._grains[other])
            folded = carried.least + (ends - carried.least) % carried.modulus
            columns["phase", carried.entry] = np.where(ends < carried.least, ends, folded)
        for number, is_built in stage.open_after:
            key = ("sum", number)
            so_far = before[key][one] if key in before else np.zeros(len(one), dtype=np.int64)
            columns[key] = added(so_far, self._seconds[other]) if is_built else so_far
        for first in stage.remembers:
            own = first == stage.piece.index
            columns["bars", first] = self._bars[other] if own else before["bars", first][one]
        if self._timed:
            columns[TIME] = added(before[TIME][one], self._seconds[other])
        return columns


@dataclass(frozen=True, slots=True, kw_only=True)
class _Groups:
    """Which lengths go with each label: a stretch of ``order``, the lengths in a certain order."""

    order: Array
    starts: Array
    counts: Array
    is_cut: bool = False
    """Whether lengths were left out for their regret."""

    @classmethod
    def by_key(cls, keys: Array, regrets: Array, wanted: Array) -> _Groups:
        """Lengths go with the labels that want their key."""
        by_regret = np.argsort(regrets, kind="stable")
        order = by_regret[np.argsort(keys[by_regret], kind="stable")]
        in_order = keys[order]
        starts = np.searchsorted(in_order, wanted, side="left")
        return cls(
            order=order, starts=starts, counts=np.searchsorted(in_order, wanted, side="right") - starts
        )

    @classmethod
    def of_all(cls, regrets: Array, labels: Array, reach: Exact | None) -> _Groups:
        """Every length goes with every label, up to ``reach`` of regret together."""
        order = np.argsort(regrets, kind="stable")
        starts = np.zeros(len(labels), dtype=np.int64)
        if reach is None:
            return cls(order=order, starts=starts, counts=np.full(len(labels), len(regrets), dtype=np.int64))
        counts = np.searchsorted(regrets[order], left_over(reach, labels, regrets), side="right")
        return cls(order=order, starts=starts, counts=counts, is_cut=bool((counts < len(regrets)).any()))

    def members(self, counts: Array) -> Array:
        """Return the lengths for each label in turn, as many as ``counts`` says."""
        ends = np.cumsum(counts)
        within = np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - counts, counts)
        members: Array = self.order[np.repeat(self.starts[: len(counts)], counts) + within]
        return members
