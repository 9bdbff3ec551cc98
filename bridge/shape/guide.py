"""What the rest of a block adds at least, known before it is walked.

A walk that does not tell seconds apart is quick, and leaves behind every move between
its labels.  Walked backwards, these give the least regret that each label's rest of the
way adds; a walk that does tell seconds apart can then drop early what will not do.
This file knows nothing about how moves are made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.shape.numbers import Array, Exact, added, codes, least_of_each
from bridge.shape.trellis import Labels, LeftOut

__all__ = ["Guide"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """From a walk that was not timed: the least regret that each label's rest of the way adds.

    That walk may have left payoffs aside: what the rest adds at least then still holds.
    It knows all labels with regrets of up to ``reach``; what it does not know leads nowhere.
    """

    layers: tuple[Labels, ...]
    leads: tuple[Array, ...]
    """For each layer, which of its labels lead to the end at all."""
    to_go: tuple[Array, ...]
    reach: Exact | None
    is_whole: bool
    """Whether it knows all labels there are, whatever their regret."""

    @classmethod
    def of(cls, layers: Sequence[Labels], beyond: Exact | None, reach: Exact | None) -> Guide | None:
        """Make it from an untimed walk; None where that left something out within its reach."""
        if beyond is not None and (reach is None or beyond < reach):
            return None
        leads = [np.ones(len(layers[-1].regrets), dtype=bool)]
        to_go = [np.zeros(len(layers[-1].regrets), dtype=np.int64)]
        for before, after in zip(layers[-2::-1], layers[:0:-1], strict=True):
            if after.edges is None:
                raise ValueError("only an untimed walk makes a guide")
            one, other, more = (edge[leads[-1][after.edges[1]]] for edge in after.edges)
            some, least = _least_by(one, added(more, to_go[-1][other]), len(before.regrets))
            leads.append(some)
            to_go.append(least)
        return cls(
            layers=tuple(layers),
            leads=tuple(leads[::-1]),
            to_go=tuple(to_go[::-1]),
            reach=reach,
            is_whole=beyond is None,
        )

    def _rest(self, layer: int, labels: Labels) -> tuple[Array, Array]:
        """Return which labels lead on, and the least regret that the rest of those adds."""
        known = self.layers[layer]
        mine, size = len(known.regrets), len(labels.regrets)
        columns = [np.concatenate((column, labels.columns[name])) for name, column in known.columns.items()]
        both = codes(columns, mine + size)
        order = np.argsort(both[:mine], kind="stable")
        places = np.searchsorted(both[:mine][order], both[mine:])
        places[places == mine] = 0
        if not mine:
            return order, self.to_go[layer]
        label = order[places]
        at = np.flatnonzero((both[:mine][label] == both[mine:]) & self.leads[layer][label])
        return at, self.to_go[layer][label[at]]

    def kept(self, layer: int, labels: Labels, reach: Exact, left_out: LeftOut) -> Labels:
        """Keep the labels that can still end within ``reach``."""
        at, to_go = self._rest(layer, labels)
        near = (added(labels.regrets[at], to_go) <= reach).astype(bool)
        if not near.all() or (len(at) < len(labels.regrets) and not self.is_whole):
            left_out.note(reach)
        kept = at[near]
        return Labels(
            edges=None if labels.edges is None else _renumbered(labels.edges, kept, len(labels.regrets)),
            columns={name: column[kept] for name, column in labels.columns.items()},
            regrets=labels.regrets[kept],
            parents=labels.parents[kept],
            bars=labels.bars[kept],
        )


def _renumbered(edges: tuple[Array, Array, Array], kept: Array, count: int) -> tuple[Array, Array, Array]:
    """Return the moves to labels that were kept, out of ``count``, under their new numbers."""
    number = np.full(count, -1, dtype=np.int64)
    number[kept] = np.arange(len(kept))
    one, other, more = edges
    there = np.flatnonzero(number[other] >= 0)
    return one[there], number[other[there]], more[there]


def _least_by(index: Array, values: Array, count: int) -> tuple[Array, Array]:
    """Return for each of ``count`` whether any value has its index, and the least that has."""
    kept = least_of_each(index, values)
    some = np.zeros(count, dtype=bool)
    least = np.zeros(count, dtype=values.dtype)
    some[index[kept]] = True
    least[index[kept]] = values[kept]
    return some, least
