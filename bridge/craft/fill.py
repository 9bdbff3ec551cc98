"""Whole turns that fill a whole number of steps: which totals can be filled, and the best split.

Stages follow one another, each of one or more whole turns of its own cycle.  Sets of
places are Python integers read as bits (bit p set: a stage may end at step p), so that
"add any number of turns" is a handful of shifts.  Plain integers throughout; this file
knows nothing about music beyond the words stage, turn and cycle.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

__all__ = ["Split", "as_bits", "best_split", "reachable", "set_bits"]


_BITS_OF = [[bit for bit in range(8) if byte >> bit & 1] for byte in range(256)]


def as_bits(places: Iterable[int]) -> int:
    """Return the set of ``places``, each 0 or more, as bits."""
    filled = bytearray()
    for place in places:
        byte = place >> 3
        if byte >= len(filled):
            filled.extend(bytes(byte + 1 - len(filled)))
        filled[byte] |= 1 << (place & 7)
    return int.from_bytes(filled, "little")


def set_bits(bits: int) -> Iterator[int]:
    """Yield the places that are set, rising."""
    for byte, eight in enumerate(bits.to_bytes(-(-bits.bit_length() // 8), "little")):
        yield from (8 * byte + bit for bit in _BITS_OF[eight])


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Turns of each stage, and by how much they miss the ideal in all (steps times the weights' sum)."""

    turns: tuple[int, ...]
    missed: int


def reachable(cycles: Sequence[int], *, up_to: int, changes: int | None = None) -> list[int]:
    """Return, before the first and after each stage, the steps at which it may end, as bits.

    Each stage has one turn or more.  ``changes`` holds the steps at which a stage may
    end (None: all of them); nothing beyond ``up_to`` is kept.
    """
    within = (1 << (up_to + 1)) - 1
    allowed = within if changes is None else changes & within
    sets = [1]
    for cycle in cycles:
        sets.append(_repeated_up(sets[-1] << cycle, cycle, up_to) & allowed)
    return sets


def best_split(
    cycles: Sequence[int], total: int, weights: Sequence[int], *, changes: int | None = None
) -> Split | None:
    """Split ``total`` steps into whole turns, as near as can be to ``weights``; None if it cannot be.

    Stage i wants total·weights[i]/sum(weights) steps; the sum of what the stages miss is
    the least possible, then the largest single miss.  The search widens a window about
    the ideal: a split that misses D in all has each stage's end within D/2 of its ideal
    place (what the stages before miss, those after it miss the other way), so a split of
    at most D found inside that window is proven the best.
    """
    alive = _alive(cycles, total, changes)
    if not alive[0]:
        return None
    scale = sum(weights)
    ideals = [total * weight for weight in accumulate(weights, initial=0)]
    within = scale * sum(cycles)
    while True:
        found = _search(cycles, alive, ideals, scale=scale, within=within)
        if found is not None and found.missed <= within:
            return found
        within *= 2


def _alive(cycles: Sequence[int], total: int, changes: int | None) -> list[int]:
    """Keep of the reachable steps those from which ``total`` can still be filled exactly."""
    forward = reachable(cycles, up_to=total, changes=changes)
    alive = [0] * len(cycles) + [forward[-1] & (1 << total)]
    for stage in range(len(cycles) - 1, -1, -1):
        cycle = cycles[stage]
        alive[stage] = _repeated_down(alive[stage + 1] >> cycle, cycle, total) & forward[stage]
    return alive


def _search(
    cycles: Sequence[int], alive: Sequence[int], ideals: Sequence[int], *, scale: int, within: int
) -> Split | None:
    """Find the best split whose stages all end within the window; None when there is none."""
    # At each step reached: (missed so far, the largest single miss, turns), least first.
    best: dict[int, tuple[int, int, tuple[int, ...]]] = {0: (0, 0, ())}
    for stage, cycle in enumerate(cycles):
        wanted = ideals[stage + 1] - ideals[stage]
        by_residue = defaultdict(list)
        for start in best:
            by_residue[start % cycle].append(start)
        reached: dict[int, tuple[int, int, tuple[int, ...]]] = {}
        for end in _steps_near(alive[stage + 1], ideals[stage + 1], scale=scale, within=within):
            choices = [
                (missed + miss, max(largest, miss), (*turns, (end - start) // cycle))
                for start in by_residue[end % cycle]
                if start < end
                for missed, largest, turns in (best[start],)
                for miss in (abs(scale * (end - start) - wanted),)
            ]
            if choices:
                reached[end] = min(choices)
        best = reached
    if not best:
        return None
    ((missed, _, turns),) = best.values()
    return Split(turns=turns, missed=missed)


def _steps_near(places: int, ideal: int, *, scale: int, within: int) -> Iterator[int]:
    """Return the set bits p of ``places`` with |scale·p − ideal| at most half of ``within``."""
    low = max(0, -((within // 2 - ideal) // scale))
    high = (ideal + within // 2) // scale
    window = (places >> low) & ((1 << (high - low + 1)) - 1)
    return (low + place for place in set_bits(window))


def _repeated_up(places: int, cycle: int, up_to: int) -> int:
    within = (1 << (up_to + 1)) - 1
    places &= within
    while cycle <= up_to:
        places |= (places << cycle) & within
        cycle *= 2
    return places


def _repeated_down(places: int, cycle: int, up_to: int) -> int:
    while cycle <= up_to:
        places |= places >> cycle
        cycle *= 2
    return places
