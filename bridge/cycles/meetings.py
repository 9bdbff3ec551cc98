"""Where layers are home together, exactly.

Every layer is home on a row of instants; rows are counted in the largest note that
divides them all, so that the search is integer arithmetic.  Time here runs from the
place where all the layers enter; this file knows nothing about bars or tempo.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, count
from math import gcd, lcm

from bridge.cycles.layer import Layer
from bridge.cycles.row import Row
from bridge.cycles.words import in_words
from bridge.exact import Length

__all__ = ["Meetings", "Never", "Together", "divisor", "meetings", "never", "on_the_way", "period"]

_BLOCK = 256
"""How many meetings of the two that meet most often are worked out at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meetings:
    """The instants at which all of some layers are home: ``first``, then ``every`` so often."""

    first: Length
    every: Length

    def __iter__(self) -> Iterator[Length]:
        return self._instants(self.first, count())

    def __contains__(self, at: object) -> bool:
        return isinstance(at, Length) and at >= self.first and not (at - self.first) % self.every

    def at_or_after(self, at: Length) -> Length:
        """Return the first meeting that is at ``at`` or later."""
        if at <= self.first:
            return self.first
        return self.first + self.every * -((self.first - at) // self.every)

    def between(self, after: Length, before: Length) -> Iterator[Length]:
        """Yield the meetings strictly after ``after`` and strictly before ``before``, in order."""
        return self._instants(self._first_after(after), range(self.count_between(after, before)))

    def count_between(self, after: Length, before: Length) -> int:
        """Count what :meth:`between` yields, without walking."""
        return max(0, -((self._first_after(after) - before) // self.every))

    def _first_after(self, after: Length) -> Length:
        start = self.at_or_after(after)
        return start + self.every if start == after else start

    def _instants(self, start: Length, times: Iterable[int]) -> Iterator[Length]:
        """Yield ``start`` plus so many times ``every``, counted in whole grains for speed."""
        grain = lcm(start.whole_notes.denominator, self.every.whole_notes.denominator)
        first, step = (_grains(part.whole_notes, grain) for part in (start, self.every))
        return (Length(Fraction(first + step * time, grain)) for time in times)


@dataclass(frozen=True, slots=True, kw_only=True)
class Never:
    """Why layers are never home together: these two never are."""

    one: Layer
    other: Layer

    @property
    def apart(self) -> Length:
        """By how much their first homes differ."""
        return abs(self.one.start - self.other.start)

    def __str__(self) -> str:
        common = divisor((self.one.turn, self.other.turn))
        return (
            f"{self.one.name!r} and {self.other.name!r} are never home together: their first homes lie "
            f"{in_words(self.apart)} apart, and their cycles, {self.one.turn} and {self.other.turn}, only "
            f"close gaps that their greatest common divisor, {common}, divides"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """Two or more layers home at one instant; ``layers`` in the order given."""

    at: Length
    layers: tuple[Layer, ...]


def period(layers: Sequence[Layer]) -> Length:
    """Return the least common multiple of the layers' turns: a ratio's is lcm(tops)/gcd(bottoms)."""
    turns = [layer.turn.whole_notes for layer in layers]
    return Length(Fraction(lcm(*(t.numerator for t in turns)), gcd(*(t.denominator for t in turns))))


def divisor(lengths: Sequence[Length]) -> Length:
    """Return the greatest length that divides all of ``lengths`` a whole number of times."""
    parts = [length.whole_notes for length in lengths]
    return Length(Fraction(gcd(*(p.numerator for p in parts)), lcm(*(p.denominator for p in parts))))


def meetings(layers: Sequence[Layer]) -> Meetings | None:
    """Return the instants at which all ``layers`` are home, or None when there is none.

    At least one layer.  A first home counts; before the last of the first homes nothing does.
    """
    grain, rows = _rows(layers)
    together = rows[0]
    for row in rows[1:]:
        met = together.met(row)
        if met is None:
            return None
        together = met
    first, every = (Length(Fraction(grains, grain)) for grains in (together.first, together.step))
    return Meetings(first=first, every=every)


def never(layers: Sequence[Layer]) -> Never | None:
    """Name two layers that are never home together, or None when all of them meet.

    Rows that meet two by two all meet together (Ore 1952), so two are always to blame.
    """
    _, rows = _rows(layers)
    for (one, its), (other, others) in combinations(zip(layers, rows, strict=True), 2):
        if (its.first - others.first) % gcd(its.step, others.step):
            return Never(one=one, other=other)
    return None


def on_the_way(layers: Sequence[Layer], *, after: Length, before: Length) -> Iterator[Together]:
    """Yield each instant strictly between ``after`` and ``before`` at which two or more are home.

    In rising order, as they are asked for; who is home comes with each.
    """
    grain, rows = _rows(layers)
    low = after.whole_notes * grain
    high = before.whole_notes * grain
    start, stop = low.numerator // low.denominator + 1, -(-high.numerator // high.denominator)
    who: dict[int, tuple[Layer, ...]] = {}
    for at, mask in _crowds(rows, start, stop):
        if mask not in who:
            who[mask] = tuple(layer for bit, layer in enumerate(layers) if mask >> bit & 1)
        yield Together(at=Length(Fraction(at, grain)), layers=who[mask])


def _crowds(rows: Sequence[Row], start: int, stop: int) -> Iterator[tuple[int, int]]:
    """Yield (grain, who) in rising order where two rows or more meet; who is a bit for each row.

    Worked out block by block, so that an endless stretch costs no more than what is asked for.
    """
    pairs = []
    for (one, row), (other, others) in combinations(enumerate(rows), 2):
        if met := row.met(others):
            pairs.append((Row(met.at_or_after(start), met.step), 1 << one | 1 << other))
    if not pairs:
        return
    block = _BLOCK * min(met.step for met, _ in pairs)
    for low in range(min(met.first for met, _ in pairs), stop, block):
        high, found = min(low + block, stop), dict[int, int]()
        for met, bits in pairs:
            for at in range(met.at_or_after(low), high, met.step):
                found[at] = found.get(at, 0) | bits
        yield from sorted(found.items())


def _rows(layers: Sequence[Layer]) -> tuple[int, list[Row]]:
    """Return how many grains make a whole note, and each layer's homes counted in grains."""
    spans = [(layer.start.whole_notes, layer.turn.whole_notes) for layer in layers]
    grain = lcm(*(part.denominator for span in spans for part in span))
    return grain, [Row(_grains(start, grain), _grains(turn, grain)) for start, turn in spans]


def _grains(part: Fraction, grain: int) -> int:
    return part.numerator * (grain // part.denominator)
