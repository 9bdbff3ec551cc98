"""The lengths in bars that a section may have, counted without being listed.

A ladder is ``firsts`` and the same again every ``period`` bars, cut at both ends, so
that 24 hours of bars cost no more than twelve.  This file knows nothing about layers,
seconds or costs.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace

from bridge.cycles.row import Row

__all__ = ["EVERY_BAR", "NO_BARS", "Ladder"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """Numbers of bars in rising order: the rungs ``first`` to ``last``, both included.

    Rung ``i`` stands at ``firsts[i % k] + (i // k) * period`` bars, where ``firsts`` are
    k rising numbers, 1 or more, less than one period apart.
    """

    firsts: tuple[int, ...]
    period: int
    first: int = 0
    last: int | None = None

    def __len__(self) -> int:
        """Count the rungs; a ladder without an upper end cannot be counted."""
        if self.last is None:
            raise ValueError("this ladder has no upper end")
        return max(0, self.last - self.first + 1)

    def __iter__(self) -> Iterator[int]:
        return (self.bars(rung) for rung in range(self.first, self.top + 1))

    def __contains__(self, bars: object) -> bool:
        if not isinstance(bars, int) or not self.firsts:
            return False
        rung = self.rung_at(bars)
        return self.first <= rung and (self.last is None or rung <= self.last) and self.bars(rung) == bars

    @property
    def is_empty(self) -> bool:
        """Whether there is no rung at all."""
        return not self.firsts or (self.last is not None and self.last < self.first)

    @property
    def top(self) -> int:
        """The last rung; ValueError where there is no upper end."""
        return self.first + len(self) - 1

    @property
    def lowest(self) -> int:
        """The fewest bars."""
        return self.bars(self.first)

    @property
    def highest(self) -> int:
        """The most bars; ValueError where there is no upper end."""
        return self.bars(self.top)

    def bars(self, rung: int) -> int:
        """Return the bars at ``rung``."""
        passes, rest = divmod(rung, len(self.firsts))
        return passes * self.period + self.firsts[rest]

    def rung_at(self, bars: int) -> int:
        """Return the first rung that stands at ``bars`` or more, whether or not it is cut off."""
        passes, rest = divmod(bars - self.firsts[0], self.period)
        return passes * len(self.firsts) + bisect_left(self.firsts, rest + self.firsts[0])

    def at_least(self, bars: int) -> Ladder:
        """Return the rungs of ``bars`` bars or more."""
        if not self.firsts:
            return self
        return replace(self, first=max(self.first, self.rung_at(bars)))

    def at_most(self, bars: int) -> Ladder:
        """Return the rungs of ``bars`` bars or fewer."""
        if not self.firsts:
            return self
        last = self.rung_at(bars + 1) - 1
        return replace(self, last=last if self.last is None else min(self.last, last))

    def met(self, other: Ladder) -> Ladder | None:
        """Return the rungs that both have; None where there would be too many to write down."""
        if self.is_empty or other.is_empty:
            return NO_BARS
        if len(self.firsts) * len(other.firsts) > _MOST_FIRSTS:
            return None
        rows = [
            row
            for one in self.firsts
            for two in other.firsts
            if (row := Row(one, self.period).met(Row(two, other.period)))
        ]
        if not rows:
            return NO_BARS
        low = max(self.lowest, other.lowest)
        ladder = Ladder(firsts=tuple(sorted(row.first for row in rows)), period=rows[0].step)
        start = ladder.firsts[0]
        folded = sorted({(first - start) % ladder.period + start for first in ladder.firsts})
        ladder = Ladder(firsts=tuple(folded), period=ladder.period).at_least(low)
        return ladder.at_most(min(self.highest, other.highest))


_MOST_FIRSTS = 4096
EVERY_BAR = Ladder(firsts=(1,), period=1)
NO_BARS = Ladder(firsts=(), period=1, last=-1)
