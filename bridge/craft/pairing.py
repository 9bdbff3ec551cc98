"""Pairings: which layers of a song sound together, and what each combination is like.

Counted over one period of the combination, from the place where all have entered.  This
file knows nothing about bars, tempo or the order in which pairings are used.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, combinations, groupby
from math import comb, lcm
from operator import attrgetter

from bridge.cycles import Layer, meetings, period
from bridge.errors import PlanError
from bridge.exact import Length

__all__ = ["Onset", "Pairing", "composite", "pairings"]

_MOST_ONSETS = 10**6
_MOST_PAIRINGS = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """An instant at which something sounds, and the layers that sound, in the order given."""

    at: Length
    layers: tuple[Layer, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Layers that sound together, two or more, over one period."""

    layers: tuple[Layer, ...]
    period: Length
    """The least common multiple of the turns: after it the combination repeats."""
    first_meeting: Length | None
    """Where all are first home together, from where they enter; None: never."""
    meetings: int
    """Instants in one period at which two or more are home."""
    onsets: int
    """Instants in one period at which anything sounds."""
    shared: int
    """Those of them at which two or more layers sound."""

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the layers."""
        return tuple(layer.name for layer in self.layers)

    @property
    def density(self) -> Fraction:
        """Onsets to a whole note."""
        return self.onsets / self.period.whole_notes


def pairings(layers: Sequence[Layer], *, sizes: Collection[int] = (2,)) -> list[Pairing]:
    """Return every combination of ``layers`` of each of the ``sizes``, smallest first, in the order given.

    PlanError for sizes that are no combinations, for more than 4096 of them, or where they
    have more than a million onsets in their periods.
    """
    for size in sizes:
        if not 2 <= size <= len(layers):
            raise PlanError(
                f"a pairing of {size} cannot be made of {len(layers)} layers",
                hint="A pairing has 2 layers or more, and no more than there are.",
            )
    wanted = sorted(set(sizes))
    count = sum(comb(len(layers), size) for size in wanted)
    if count > _MOST_PAIRINGS:
        raise PlanError(
            f"{len(layers)} layers have {count} such pairings; at most {_MOST_PAIRINGS} are listed",
            hint="Take fewer layers, or pairings of two only.",
        )
    chosen = [one for size in wanted for one in combinations(layers, size)]
    _refuse_too_many(chosen)
    return [_pairing(one) for one in chosen]


def composite(layers: Sequence[Layer], *, until: Length) -> Iterator[Onset]:
    """Yield each instant before ``until`` at which a layer sounds its accents, in rising order.

    All layers enter at 0; each sounds from its own start on.
    """
    rows = (_accents(layer, until) for layer in layers)
    numbered = ([_Sound(at=at, index=index) for at in row] for index, row in enumerate(rows))
    for at, sounds in groupby(heapq.merge(*numbered, key=attrgetter("at")), key=attrgetter("at")):
        who = sorted({sound.index for sound in sounds})
        yield Onset(at=at, layers=tuple(layers[index] for index in who))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sound:
    at: Length
    index: int


def _pairing(layers: tuple[Layer, ...]) -> Pairing:
    whole = period(layers)
    met = meetings(layers)
    sounding = _crowds(layers, whole, [layer.accents for layer in layers])
    home = _crowds(layers, whole, [(Length(0),)] * len(layers))
    return Pairing(
        layers=layers,
        period=whole,
        first_meeting=None if met is None else met.first,
        meetings=sum(1 for crowd in home.values() if crowd > 1),
        onsets=len(sounding),
        shared=sum(1 for crowd in sounding.values() if crowd > 1),
    )


def _crowds(layers: tuple[Layer, ...], whole: Length, offsets: Sequence[tuple[Length, ...]]) -> Counter[int]:
    """Count at each instant of one period how many layers are at one of their ``offsets``.

    The period is taken round: all have entered, so what lies before its start is what
    lies before its end.  Instants are counted in the largest note that divides them all.
    """
    turns = [layer.turn.whole_notes for layer in layers]
    firsts = [
        [(layer.start + offset / layer.rate).whole_notes for offset in row]
        for layer, row in zip(layers, offsets, strict=True)
    ]
    grain = lcm(*(part.denominator for part in (*turns, *chain.from_iterable(firsts))))
    length = int(whole.whole_notes * grain)
    crowds: Counter[int] = Counter()
    for turn, row in zip(turns, firsts, strict=True):
        step = int(turn * grain)
        crowds.update({at for first in row for at in range(int(first * grain) % step, length, step)})
    return crowds


def _accents(layer: Layer, until: Length) -> Iterator[Length]:
    """Yield where ``layer`` sounds before ``until``, rising: its accents, turn by turn."""
    inside = sorted(accent / layer.rate for accent in layer.accents)
    home = layer.start
    while home < until:
        yield from (home + accent for accent in inside if home + accent < until)
        home += layer.turn


def _refuse_too_many(chosen: Sequence[tuple[Layer, ...]]) -> None:
    onsets = 0
    for layers in chosen:
        whole = period(layers)
        onsets += sum(len(layer.accents) * (whole // layer.turn) for layer in layers)
        if onsets > _MOST_ONSETS:
            names = ", ".join(layer.name for layer in layers)
            raise PlanError(
                f"with {names} there are {onsets} onsets before all pairings repeat; "
                f"at most {_MOST_ONSETS} are counted",
                hint="Take fewer layers, or cycles whose least common multiple is shorter.",
            )
