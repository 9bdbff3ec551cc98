"""What kind of relation two layers have, in the words of theory.

A shared pulse grouped differently is polymeter; different pulses in the same span are
polyrhythm; slightly different rates are drift.  This file knows nothing about bars.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from bridge.cycles.layer import Kind, Layer
from bridge.cycles.meetings import Meetings, meetings
from bridge.exact import Ratio

__all__ = ["Pair", "Relation", "pairs", "relation"]

_AS_WRITTEN = Ratio(1)


class Relation(StrEnum):
    """How two layers move against each other."""

    SAME = "same"
    DRIFT = "drift"
    POLYRHYTHM = "polyrhythm"
    POLYMETER = "polymeter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two layers, their relation, and where they are home together (None: never)."""

    one: Layer
    other: Layer
    relation: Relation
    meetings: Meetings | None


def relation(one: Layer, other: Layer) -> Relation:
    """Name the relation of two layers: the first of the four that applies.

    ``same``: their turns last equally long, as played; ``drift``: one has a rate other than 1;
    ``polyrhythm``: one is so many pulses over a span; else ``polymeter``.
    """
    if one.turn == other.turn:
        return Relation.SAME
    if one.rate != _AS_WRITTEN or other.rate != _AS_WRITTEN:
        return Relation.DRIFT
    if Kind.PULSES in (one.kind, other.kind):
        return Relation.POLYRHYTHM
    return Relation.POLYMETER


def pairs(layers: Sequence[Layer]) -> tuple[Pair, ...]:
    """Return every pair of ``layers``, in their order."""
    return tuple(
        Pair(one=one, other=other, relation=relation(one, other), meetings=meetings((one, other)))
        for one, other in combinations(layers, 2)
    )
