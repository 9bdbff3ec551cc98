"""Pairings: which layers of a song sound together, and what each combination is like.

Counted over one period of the combination, from the place where all have entered.  This
file knows nothing about bars, tempo or the order in which pairings are used.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, groupby
from operator import attrgetter

from bridge.cycles import Layer, meetings, on_the_way, period
from bridge.errors import PlanError
from bridge.exact import Length

__all__ = ["Onset", "Pairing", "composite", "pairings"]

_MOST_ONSETS = 10**6


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


def pairings(layers: Sequence[Layer], *, sizes: Collection[int] = (2,)) -> Iterator[Pairing]:
    """Yield every combination of ``layers`` of each of the ``sizes``, smallest first, in the order given.

    PlanError for sizes that are no combinations, or where one has more than a million
    onsets in its period.
    """
    for size in sorted(set(sizes)):
        if not 2 <= size <= len(layers):
            raise PlanError(
                f"a pairing of {size} cannot be made of {len(layers)} layers",
                hint="A pairing has 2 layers or more, and no more than there are.",
            )
        for chosen in combinations(layers, size):
            yield _pairing(chosen)


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
    entered = max(layer.start for layer in layers)
    _refuse_too_many(layers, entered + whole)
    sounding = [onset for onset in composite(layers, until=entered + whole) if onset.at >= entered]
    met = meetings(layers)
    # The end of the period stands for its start, which 'strictly between' leaves out.
    inside = list(on_the_way(layers, after=entered, before=entered + whole))
    at_the_start = sum(layer.is_home(entered) for layer in layers) >= 2
    return Pairing(
        layers=layers,
        period=whole,
        first_meeting=None if met is None else met.first,
        meetings=len(inside) + at_the_start,
        onsets=len(sounding),
        shared=sum(1 for onset in sounding if len(onset.layers) > 1),
    )


def _accents(layer: Layer, until: Length) -> Iterator[Length]:
    """Yield where ``layer`` sounds before ``until``, rising: its accents, turn by turn."""
    inside = sorted(accent / layer.rate for accent in layer.accents)
    home = layer.start
    while home < until:
        yield from (home + accent for accent in inside if home + accent < until)
        home += layer.turn


def _refuse_too_many(layers: tuple[Layer, ...], span: Length) -> None:
    onsets = sum(len(layer.accents) * (span // layer.turn + 1) for layer in layers)
    if onsets > _MOST_ONSETS:
        names = ", ".join(layer.name for layer in layers)
        raise PlanError(
            f"{names} have {onsets} onsets before they repeat; at most {_MOST_ONSETS} are counted",
            hint="Take cycles whose least common multiple is shorter.",
        )
