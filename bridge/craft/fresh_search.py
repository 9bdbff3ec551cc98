"""The search behind a fresh order: paths through pairings that lie one layer apart.

Sets of pairings are integers read as bits.  This file knows nothing about why an order
is wanted, and makes no messages.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from random import Random

__all__ = ["Names", "Search", "bits", "flood", "longest_stay", "neighbours"]

Names = frozenset[str]

_TRIES = (*([400] * 24), 40_000)
"""Steps of each try; each orders its equals anew, and one that ends sooner has tried everything.

Short tries find what is there, the long one proves what is not.  Steps, not seconds, and
a fixed seed, so that the order is the same on every machine.
"""


def longest_stay(pairings: Sequence[Collection[str]]) -> int:
    """Return the most pairings in a row that one layer is in."""
    best = 0
    run: dict[str, int] = {}
    for names in pairings:
        run = {name: run.get(name, 0) + 1 for name in names}
        best = max(best, *run.values())
    return best


@dataclass(slots=True, kw_only=True)
class Search:
    """Depth-first over orders of different pairings; what has failed once is not tried again."""

    nodes: list[Names]
    sections: int
    stay: int
    closed: bool
    steps: int = 0
    """In all tries together."""
    exhausted: bool = False
    """Whether the last try ended because everything had been tried."""
    next_to: list[int] = field(init=False)
    limit: int = 0
    dice: Random | None = None
    failed: set[tuple[object, ...]] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.next_to = neighbours(self.nodes)

    @property
    def different(self) -> int:
        """How many different pairings an order holds."""
        return min(self.sections, len(self.nodes))

    def run(self, starts: Sequence[int]) -> list[int] | None:
        """Find an order from one of ``starts`` in which nobody stays longer than ``stay``, or None."""
        for number, steps in enumerate(_TRIES):
            self.limit = self.steps + steps
            self.dice = Random(number) if number else None  # noqa: S311  an order, not a secret
            self.failed.clear()
            found = self._try(starts)
            self.exhausted = self.steps <= self.limit
            if found is not None or self.exhausted:
                return found
        return None

    def _try(self, starts: Sequence[int]) -> list[int] | None:
        for start in starts:
            found = self._from([start], 1 << start, dict.fromkeys(self.nodes[start], 1))
            if found is not None:
                return found
        return None

    def _from(self, path: list[int], used: int, stays: dict[str, int]) -> list[int] | None:
        if len(path) == self.different:
            return self._whole(path)
        self.steps += 1
        state = self._state(path, used, stays)
        if self.steps > self.limit or state in self.failed or self._cut_off(path, used):
            return None
        for node in self._onward(path[-1], used):
            kept = {name: stays.get(name, 0) + 1 for name in self.nodes[node]}
            if max(kept.values()) <= self.stay:
                found = self._from([*path, node], used | 1 << node, kept)
                if found is not None:
                    return found
        self.failed.add(state)
        return None

    def _state(self, path: list[int], used: int, stays: dict[str, int]) -> tuple[object, ...]:
        """Return all that what may follow depends on; where the order closes, its beginning too."""
        beginning = tuple(path[: self.stay + 1]) if self.closed else ()
        return (used, path[-1], beginning, *(stays[name] for name in sorted(stays)))

    def _whole(self, path: list[int]) -> list[int] | None:
        """Repeat a closed order over all the sections; None where it does not close or tires."""
        if not self.closed:
            return path
        if len(path) > 1 and not self.next_to[path[-1]] >> path[0] & 1:
            return None
        whole = [path[section % len(path)] for section in range(self.sections)]
        return whole if longest_stay([self.nodes[node] for node in whole]) <= self.stay else None

    def _onward(self, node: int, used: int) -> list[int]:
        """List the pairings that may follow, those with the fewest ways on first."""
        free = list(bits(self.next_to[node] & ~used))
        if self.dice is not None:
            self.dice.shuffle(free)
        return sorted(free, key=lambda other: (self.next_to[other] & ~used).bit_count())

    def _cut_off(self, path: list[int], used: int) -> bool:
        """Tell whether a pairing that must still come, or the way back, can no longer be reached."""
        if self.different < len(self.nodes):
            return False
        left = ((1 << len(self.nodes)) - 1) & ~used
        if self.closed and not self.next_to[path[0]] & left:
            return True
        return flood(self.next_to, self.next_to[path[-1]] & left, left) != left


def _one_apart(one: Names, other: Names) -> bool:
    return one != other and len(one - other) <= 1 and len(other - one) <= 1


def neighbours(nodes: list[Names]) -> list[int]:
    """Return for each pairing, as bits, those that differ from it by one layer."""
    return [sum(1 << other for other, names in enumerate(nodes) if _one_apart(node, names)) for node in nodes]


def flood(next_to: list[int], start: int, within: int) -> int:
    """Return all that can be reached from ``start`` by steps within ``within``, as bits."""
    reached, edge = start, start
    while edge:
        grown = 0
        for node in bits(edge):
            grown |= next_to[node]
        edge = grown & within & ~reached
        reached |= edge
    return reached


def bits(mask: int) -> Iterator[int]:
    """Yield the numbers of the bits that are set, rising."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low
