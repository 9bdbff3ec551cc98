"""The sections of one block, walked in song order.

A label stands for all ways of filling the block's sections up to here that the rest of
the block cannot tell apart: equal counts since each entry that is still needed, equal
bars where a later section must have as many, equal sums of seconds where a payoff is
still open and, where asked for, equal seconds in all.  Of such ways only the one with
the least regret is kept: whatever completes one completes the others at the same price,
so nothing is lost by it.  What is left out for having too much regret, or for lack of
room, is accounted for: nothing left out has less regret than ``beyond``.

This file knows nothing about the rest of the song.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import gcd, lcm
from typing import TypeAlias

import numpy as np

from bridge.shape.effort import Effort
from bridge.shape.numbers import Array, Exact, added, array, codes, is_wide, least_of_each, left_over, plain, times
from bridge.shape.phases import first_meeting
from bridge.shape.piece import Piece
from bridge.shape.problem import Answer, Problem
from bridge.shape.window import Window

__all__ = ["TIME", "Guide", "Trellis", "Walk", "can_come_home", "walk"]

Column: TypeAlias = tuple[str, int]
"""What a label remembers: ``phase`` of an entry, ``sum`` of a payoff, ``bars`` of a section."""

TIME: Column = ("time", 0)

_PHASES = 1 << 14
"""Lengths a section that are tried for their phases at most."""
_PHASE_STEPS = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stage:
    """One section of a block, and what its labels have to remember."""

    piece: Piece
    answers: tuple[int, ...]
    """The payoffs that it answers."""
    open_after: tuple[tuple[int, bool], ...]
    """The payoffs still open after it, and whether it is one of the built."""
    twin: int | None
    """The earlier section whose bars it takes."""
    remembers: tuple[int, ...]
    """The sections whose bars are still needed after it."""


class Trellis:
    """The stages of one block; :func:`walk` goes through them."""

    def __init__(self, problem: Problem, block: Sequence[int]) -> None:
        inside = set(block)
        self.answers: tuple[Answer, ...] = tuple(a for a in problem.answers if a.section in inside)
        self.stages = tuple(self._stage(problem, block, at) for at in range(len(block)))

    def _stage(self, problem: Problem, block: Sequence[int], at: int) -> _Stage:
        index, later = block[at], block[at + 1 :]
        first = problem.twins[index]
        seen = {problem.twins[other] for other in block[: at + 1]}
        open_after = [
            (number, index in answer.built)
            for number, answer in enumerate(self.answers)
            if answer.section in later and any(built <= index for built in answer.built)
        ]
        return _Stage(
            piece=problem.pieces[index],
            answers=tuple(number for number, answer in enumerate(self.answers) if answer.section == index),
            open_after=tuple(open_after),
            twin=None if first == index else first,
            remembers=tuple(sorted(seen & {problem.twins[other] for other in later})),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Labels:
    """Labels after one stage: what each remembers, its regret, where it came from."""

    columns: dict[Column, Array]
    regrets: Array
    parents: Array
    bars: Array
    edges: tuple[Array, Array, Array] | None = None
    """Of a walk that is not timed: every move, as label before, label after and added regret."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """What a walk through a block found: complete ways, by regret and (if asked for) seconds."""

    layers: tuple[_Labels, ...]
    beyond: Exact | None
    """No way that was left out has less regret than this; None: none was left out."""

    @property
    def regrets(self) -> Array:
        """The regret of each way."""
        return self.layers[-1].regrets

    @property
    def seconds(self) -> Array:
        """The seconds of each way, where they were asked for."""
        return self.layers[-1].columns[TIME]

    def bars(self, way: int) -> list[int]:
        """Return the bars of each section along a way."""
        found = []
        for labels in reversed(self.layers[1:]):
            found.append(int(labels.bars[way]))
            way = int(labels.parents[way])
        return found[::-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """From a walk that was not timed: the least regret that each label's rest of the way adds.

    It knows all labels with regrets of up to ``reach``; what it does not know leads nowhere.
    """

    layers: tuple[_Labels, ...]
    leads: tuple[Array, ...]
    """For each layer, which of its labels lead to the end at all."""
    to_go: tuple[Array, ...]
    reach: Exact | None

    @classmethod
    def of(cls, found: Walk, reach: Exact | None) -> Guide | None:
        """Make it from an untimed walk; None where that left something out within its reach."""
        if found.beyond is not None and (reach is None or found.beyond < reach):
            return None
        leads = [np.ones(len(found.regrets), dtype=bool)]
        to_go = [np.zeros(len(found.regrets), dtype=np.int64)]
        for before, after in zip(found.layers[-2::-1], found.layers[:0:-1], strict=True):
            if after.edges is None:
                raise ValueError("only an untimed walk makes a guide")
            one, other, more = (edge[leads[-1][after.edges[1]]] for edge in after.edges)
            some, least = _least_by(one, added(more, to_go[-1][other]), len(before.regrets))
            leads.append(some)
            to_go.append(least)
        return cls(layers=found.layers, leads=tuple(leads[::-1]), to_go=tuple(to_go[::-1]), reach=reach)

    def rest(self, layer: int, labels: _Labels) -> tuple[Array, Array]:
        """Return which labels lead on, and the least regret that the rest of those adds."""
        known = self.layers[layer]
        mine, size = len(known.regrets), len(labels.regrets)
        columns = [np.concatenate((column, labels.columns[name])) for name, column in known.columns.items()]
        both = codes(columns, mine + size)
        order = np.argsort(both[:mine], kind="stable")
        places = np.searchsorted(both[:mine][order], both[mine:])
        places[places == mine] = 0
        label = order[places] if mine else places
        if not mine:
            return order, self.to_go[layer]
        at = np.flatnonzero((both[:mine][label] == both[mine:]) & self.leads[layer][label])
        return at, self.to_go[layer][label[at]]


def _least_by(index: Array, values: Array, count: int) -> tuple[Array, Array]:
    """Return for each of ``count`` whether any value has its index, and the least that has."""
    kept = least_of_each(index, values)
    some = np.zeros(count, dtype=bool)
    least = np.zeros(count, dtype=values.dtype)
    some[index[kept]] = True
    least[index[kept]] = values[kept]
    return some, least


def walk(
    trellis: Trellis,
    windows: Sequence[Window],
    reach: Exact | None,
    effort: Effort,
    *,
    timed: bool,
    guide: Guide | None = None,
) -> Walk:
    """Find the complete ways whose regret is at most ``reach`` (None: any).

    ``timed`` keeps ways of different seconds apart; a ``guide`` that reaches as far then
    tells early which ways will not do.  Regrets are sums of the windows'.
    """
    nothing = np.zeros(1, dtype=np.int64)
    start = {TIME: nothing} if timed else {}
    layers = [_Labels(columns=start, regrets=nothing, parents=nothing, bars=nothing)]
    left_out = _LeftOut()
    for stage, window in zip(trellis.stages, windows, strict=True):
        left_out.note(window.beyond)
        labels = _Move(trellis, stage, window, layers[-1], timed).made(reach, effort, left_out)
        if guide is not None and reach is not None:
            labels = _guided(labels, guide, len(layers), reach, left_out)
        layers.append(labels)
    return Walk(layers=tuple(layers), beyond=left_out.least)


def can_come_home(problem: Problem, block: Sequence[int]) -> bool:
    """Tell whether the phases alone allow any way through the block, payoffs and twins aside.

    Phases repeat, so of each section only the lengths up to the first whole repetition
    need trying, however long it may be.  False is proven; True may be a plain "not known".
    """
    free = replace(problem, answers=(), twins=tuple(range(len(problem.pieces))))
    windows = [_one_of_each_phase(problem.pieces[index]) for index in block]
    if any(window is None for window in windows):
        return True
    known = [window for window in windows if window is not None]
    found = walk(Trellis(free, block), known, None, Effort(_PHASE_STEPS), timed=False)
    return bool(len(found.regrets)) or found.beyond is not None


def _one_of_each_phase(piece: Piece) -> Window | None:
    """List lengths until every phase of all that is counted has come up; None: too many."""
    part, ladder = piece.part, piece.ladder
    folds = [(home.row.first, home.row.step) for home in part.homes if home.row]
    folds += [(carried.least, carried.modulus) for carried in part.carries]
    folds += [(row.first, row.step) for _, row in part.once]
    least, modulus = max((fold[0] for fold in folds), default=0), lcm(*(fold[1] for fold in folds))
    row = len(part.grain.starts) - 1
    bars = lcm(ladder.period, row)
    cycle = len(ladder.firsts) * (bars // ladder.period)
    cycle *= modulus // gcd(modulus, part.grain.of_bars(bars))
    start = ladder.rung_at(part.grain.bars_within(least + modulus) + 1)
    last = min(ladder.top, max(start, ladder.first) + cycle)
    if last - ladder.first > _PHASES:
        return None
    counts = array([ladder.bars(rung) for rung in range(ladder.first, last + 1)])
    nothing = np.zeros(len(counts), dtype=np.int64)
    return Window(bars=counts, seconds=nothing, regrets=nothing, base=0, beyond=None)


class _LeftOut:
    """The least regret of anything left out; None while nothing was."""

    def __init__(self) -> None:
        self.least: Exact | None = None

    def note(self, regret: Exact | None) -> None:
        if regret is not None:
            self.least = regret if self.least is None else min(self.least, regret)


def _guided(labels: _Labels, guide: Guide, layer: int, reach: Exact, left_out: _LeftOut) -> _Labels:
    """Keep the labels that can still end within ``reach``."""
    at, to_go = guide.rest(layer, labels)
    near = (added(labels.regrets[at], to_go) <= reach).astype(bool)
    if len(at) < len(labels.regrets) or not near.all():
        left_out.note(reach)
    kept = at[near]
    return _Labels(
        columns={name: column[kept] for name, column in labels.columns.items()},
        regrets=labels.regrets[kept],
        parents=labels.parents[kept],
        bars=labels.bars[kept],
    )


class _Move:
    """From the labels before one section to those after it."""

    def __init__(self, trellis: Trellis, stage: _Stage, window: Window, before: _Labels, timed: bool) -> None:
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

    def made(self, reach: Exact | None, effort: Effort, left_out: _LeftOut) -> _Labels:
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
        return _Labels(
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

    def _pairs(self, reach: Exact | None, effort: Effort, left_out: _LeftOut) -> tuple[Array, Array]:
        """Return labels and lengths to be tried together, the labels of least regret first."""
        wide = is_wide(self._before.regrets) or is_wide(self._regrets)
        order = np.argsort(self._before.regrets, kind="stable")
        if self._stage.twin is not None:
            groups = _Groups(self._bars, self._regrets, self._before.columns["bars", self._stage.twin][order])
        elif any(home.row is None for home in self._part.homes):
            return order[:0], order[:0]
        elif self._part.homes:
            groups = self._by_home(order)
        else:
            groups = _Groups.all(self._regrets, self._before.regrets[order], reach)
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
        return _Groups(self._grains % home.row.step, self._regrets, (home.row.first - counts) % home.row.step)

    def _allowed(self, one: Array, other: Array) -> Array:
        allowed = np.ones(len(one), dtype=bool)
        for home in self._part.homes:
            if home.row is None:
                allowed[:] = False
                return allowed
            ends = added(self._before.columns["phase", home.entry][one], self._grains[other])
            allowed &= ((ends >= home.row.first) & ((ends - home.row.first) % home.row.step == 0)).astype(bool)
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


class _Groups:
    """Which lengths go with each label: a stretch of the lengths in a certain order."""

    def __init__(self, keys: Array, regrets: Array, wanted: Array) -> None:
        by_regret = np.argsort(regrets, kind="stable")
        self._order = by_regret[np.argsort(keys[by_regret], kind="stable")]
        in_order = keys[self._order]
        self._starts = np.searchsorted(in_order, wanted, side="left")
        self.counts = np.searchsorted(in_order, wanted, side="right") - self._starts
        self.is_cut = False

    @classmethod
    def all(cls, regrets: Array, labels: Array, reach: Exact | None) -> _Groups:
        """Every length goes with every label, up to ``reach`` of regret together."""
        groups = cls.__new__(cls)
        groups._order = np.argsort(regrets, kind="stable")
        groups._starts = np.zeros(len(labels), dtype=np.int64)
        if reach is None:
            groups.counts = np.full(len(labels), len(regrets), dtype=np.int64)
        else:
            left = left_over(reach, labels, regrets)
            groups.counts = np.searchsorted(regrets[groups._order], left, side="right")
        groups.is_cut = bool((groups.counts < len(regrets)).any())
        return groups

    def members(self, counts: Array) -> Array:
        """Return the lengths for each label in turn, as many as ``counts`` says."""
        ends = np.cumsum(counts)
        within = np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - counts, counts)
        return self._order[np.repeat(self._starts[: len(counts)], counts) + within]
