"""An order of pairings that keeps a passage fresh: solved by search, proven where it says so.

Each pairing differs from the one before by one layer (one is swapped for another, or one
enters, or one leaves), and every pairing is heard once before any comes back.  Of all
such orders one is taken in which no layer stays on longer than it must: ears tire of a
part that never rests (common practice, no source).  This file knows nothing about what
the pairings sound like.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

from bridge.craft.fresh_search import Names, Search, bits, flood, longest_stay, neighbours
from bridge.errors import PlanError

__all__ = ["NoOrder", "Order", "fresh_order", "longest_stay"]

_MOST_PAIRINGS = 128
_MOST_SECTIONS = 1024
_MOST_STEPS = 200_000
"""Steps of all tries together, not seconds: the order is the same on every machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One pairing a section, each a tuple of names in the order of the layers.

    ``longest_stay`` is the most sections in a row that any layer sounds; ``proven``: no
    order has less.
    """

    pairings: tuple[tuple[str, ...], ...]
    longest_stay: int
    proven: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class NoOrder:
    """Why there is no order; ``proven`` is False where the search ended before it could tell."""

    why: str
    proven: bool


def fresh_order(
    layers: Sequence[str],
    *,
    sections: int,
    sizes: Collection[int] = (2,),
    without: Collection[Collection[str]] = (),
    first: Collection[str] | None = None,
) -> Order | NoOrder:
    """Order the pairings of ``layers`` (of these ``sizes``, but not ``without``) over ``sections`` sections.

    With more sections than pairings the order closes: it is played again from its start,
    so that each pairing comes back as late as can be.  PlanError for no sections or more
    than 1024, unknown names, or more than 128 pairings.
    """
    if not 1 <= sections <= _MOST_SECTIONS:
        raise PlanError(f"an order is for 1 to {_MOST_SECTIONS} sections, not {sections}")
    nodes = _nodes(layers, sizes, without)
    starts = [nodes.index(_known(first, layers, nodes))] if first is not None else list(range(len(nodes)))
    impossible = _impossible(layers, nodes, sections, starts)
    if impossible is not None:
        return NoOrder(why=impossible, proven=True)
    closed = sections > len(nodes)
    proven, steps = True, 0
    for stay in range(_least_stay(nodes, sections), sections + 1):
        search = Search(nodes=nodes, sections=sections, stay=stay, closed=closed)
        found = search.run(starts)
        if found is not None:
            return _order([nodes[one] for one in found], layers, proven=proven)
        proven = proven and search.exhausted
        steps += search.steps
        if steps > _MOST_STEPS:
            proven = False
            break
    return NoOrder(why=_why(sections, nodes, closed=closed, proven=proven), proven=proven)


def _order(found: list[Names], layers: Sequence[str], *, proven: bool) -> Order:
    named = tuple(tuple(name for name in layers if name in names) for names in found)
    return Order(pairings=named, longest_stay=longest_stay(named), proven=proven)


def _nodes(
    layers: Sequence[str], sizes: Collection[int], without: Collection[Collection[str]]
) -> list[Names]:
    if len(set(layers)) < len(layers):
        raise PlanError(f"the layers have names of their own, not {', '.join(layers)}")
    for size in sizes:
        if not 2 <= size <= len(layers):
            raise PlanError(f"a pairing of {size} cannot be made of {len(layers)} layers")
    count = sum(comb(len(layers), size) for size in set(sizes))
    if count > _MOST_PAIRINGS:
        raise PlanError(
            f"{len(layers)} layers have {count} pairings; at most {_MOST_PAIRINGS} are ordered",
            hint="Take fewer layers, or pairings of two only.",
        )
    left_out = {_known(names, layers, None) for names in without}
    return [
        frozenset(chosen)
        for size in sorted(set(sizes))
        for chosen in combinations(layers, size)
        if frozenset(chosen) not in left_out
    ]


def _known(names: Collection[str], layers: Sequence[str], nodes: list[Names] | None) -> Names:
    chosen = frozenset(names)
    for name in names:
        if name not in layers:
            raise PlanError(f"there is no layer {name!r}; there are {', '.join(layers)}")
    if nodes is not None and chosen not in nodes:
        raise PlanError(f"{' + '.join(names)} is not among the pairings that may be used")
    return chosen


def _impossible(layers: Sequence[str], nodes: list[Names], sections: int, starts: list[int]) -> str | None:
    """Say why no order can be, where that is plain without a search."""
    if not nodes:
        return "no pairing may be used"
    if len(nodes) == 1 and sections > 1:
        return f"there is one pairing only, {_shown(nodes[0], layers)}, and {sections} sections to fill"
    next_to = neighbours(nodes)
    everything = (1 << len(nodes)) - 1
    islands = [flood(next_to, 1 << start, everything) for start in starts]
    largest = max(islands, key=int.bit_count)
    if largest.bit_count() >= min(sections, len(nodes)):
        return None
    stranded = next(bits(everything & ~largest))
    return (
        f"from {_shown(nodes[next(bits(largest))], layers)} one layer at a time reaches "
        f"{largest.bit_count()} of the {len(nodes)} pairings, never {_shown(nodes[stranded], layers)}"
    )


def _least_stay(nodes: list[Names], sections: int) -> int:
    """Return a stay below which no order can be.

    Neighbours share a layer, so one layer stays for two.  With pairs, nobody staying for
    three means that the pairs are the edges of one walk over the layers, none walked
    twice: Euler's walk.  It allows two layers with an odd number of pairs (none, where it
    is played on past its end for two sections or more and so must close), and each pair
    left out mends two.
    """
    if sections == 1:
        return 1
    if any(len(node) > 2 for node in nodes):
        return 2
    names = {name for node in nodes for name in node}
    odd = sum(1 for name in names if sum(name in node for node in nodes) % 2)
    allowed = 0 if sections > len(nodes) + 1 else 2
    left_out = max(0, len(nodes) - sections)
    return 3 if odd - 2 * left_out > allowed else 2


def _why(sections: int, nodes: list[Names], *, closed: bool, proven: bool) -> str:
    what = f"of the {len(nodes)} pairings over {sections} sections"
    if closed:
        what = f"of all {len(nodes)} pairings that can be played again from its start"
    if proven:
        return f"there is no order {what} in which each differs from the last by one layer; all were tried"
    return f"no order {what} was found in {_MOST_STEPS} steps, and no proof that there is none"


def _shown(names: Names, layers: Sequence[str]) -> str:
    return " + ".join(name for name in layers if name in names)
