"""The lengths in bars after which layers come home on a barline.

For each bar of the (repeating) list of meters the barlines form a row, the meetings of
the layers form another, and the general Chinese remainder theorem says where the two
fall together: no search over bars.  This file knows nothing about tempo or sections.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm
from typing import Protocol

from bridge.cycles.layer import Layer
from bridge.cycles.meetings import Meetings, meetings, never
from bridge.cycles.offbar import OffBar
from bridge.cycles.row import Row
from bridge.exact import Length, Meters

__all__ = ["GoodLengths", "LengthsInBars", "good_lengths", "nearest"]


class LengthsInBars(Protocol):
    """A rising row of lengths in bars of ``meters``."""

    @property
    def meters(self) -> Meters:
        """The meters whose barlines are counted."""

    def at_or_after(self, bars: int) -> int | None:
        """Return the first length of ``bars`` bars or more, or None."""

    def at_or_before(self, bars: int) -> int | None:
        """Return the last length of ``bars`` bars or fewer, or None."""


def nearest(lengths: LengthsInBars, wish: Length, *, up_to: int | None = None) -> int | None:
    """Return the length nearest to ``wish`` in whole notes, of at most ``up_to`` bars; None: none is.

    Of two equally near, the shorter.
    """
    meters = lengths.meters
    here = meters.bars_within(wish)
    below = lengths.at_or_before(here if up_to is None else min(here, up_to))
    above = lengths.at_or_after(max(1, here + 1))
    found = [bars for bars in (below, above) if bars is not None and (up_to is None or bars <= up_to)]
    return min(found, key=lambda bars: (abs(meters.of_bars(bars) - wish), bars), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodLengths:
    """All lengths, 1 bar or more, at whose end every layer is home; the layers enter at the start.

    ``firsts`` are the good lengths of the first ``period_bars`` bars from the first of them
    on, in rising order; all others follow by adding whole periods.  Both tell of none where
    no barline is ever good, and ``why`` then says why.
    """

    meters: Meters
    firsts: tuple[int, ...]
    period_bars: int | None
    why: str | None = None

    def __post_init__(self) -> None:
        if bool(self.firsts) != (self.period_bars is not None) or bool(self.firsts) != (self.why is None):
            raise ValueError("good lengths have a period, or a reason why there are none")

    def __iter__(self) -> Iterator[int]:
        """Yield them in rising order, without end."""
        passed = 0
        while self.period_bars is not None:
            for first in self.firsts:
                yield first + passed
            passed += self.period_bars

    def __contains__(self, bars: object) -> bool:
        return isinstance(bars, int) and bars >= 1 and self.at_or_after(bars) == bars

    def at_or_after(self, bars: int) -> int | None:
        """Return the first good length of ``bars`` bars or more; None where there is none at all."""
        if self.period_bars is None:
            return None
        passes = max(0, (bars - self.firsts[0]) // self.period_bars)
        rest = bars - passes * self.period_bars
        index = bisect_left(self.firsts, rest)
        if index < len(self.firsts):
            return self.firsts[index] + passes * self.period_bars
        return self.firsts[0] + (passes + 1) * self.period_bars

    def at_or_before(self, bars: int) -> int | None:
        """Return the last good length of ``bars`` bars or fewer, or None."""
        if self.period_bars is None or bars < self.firsts[0]:
            return None
        passes = (bars - self.firsts[0]) // self.period_bars
        index = bisect_right(self.firsts, bars - passes * self.period_bars) - 1
        return self.firsts[index] + passes * self.period_bars

    def count_to(self, bars: int) -> int:
        """Count the good lengths of ``bars`` bars or fewer, without walking them."""
        if self.period_bars is None:
            return 0
        return sum(Row(first, self.period_bars).count_to(bars) for first in self.firsts)


def good_lengths(meters: Meters, layers: Sequence[Layer]) -> GoodLengths:
    """Return all lengths in bars of ``meters`` after which all ``layers`` (at least one) are home."""
    together = meetings(layers)
    if together is None:
        return GoodLengths(meters=meters, firsts=(), period_bars=None, why=str(never(layers)))
    rows = _rows_of_bars(meters, together)
    if not rows:
        why = str(OffBar(meters=meters, layers=tuple(layers), together=together))
        return GoodLengths(meters=meters, firsts=(), period_bars=None, why=why)
    residues = {row.first % row.step for row in rows}
    step = _shortest_period(residues, rows[0].step)
    firsts = sorted(row.first for row in rows)
    return GoodLengths(
        meters=meters,
        firsts=tuple(first for first in firsts if first < firsts[0] + step),
        period_bars=step,
    )


def _rows_of_bars(meters: Meters, together: Meetings) -> list[Row]:
    """Return the good lengths as rows with one common step, one row for each bar of the list at most."""
    count = len(meters.row)
    barlines = [meters.of_bars(index).whole_notes for index in range(count)]
    ends = (meters.length.whole_notes, together.first.whole_notes, together.every.whole_notes)
    grain = lcm(*(part.denominator for part in (*barlines, *ends)))
    list_length, first, every = (_grains(part, grain) for part in ends)
    homes = Row(first, every)
    rows = []
    for index, barline in enumerate(barlines):
        passes = 1 if index == 0 else 0  # bar line 0 is the start, not a length
        met = Row(_grains(barline, grain) + passes * list_length, list_length).met(homes)
        if met is not None:
            first_pass = (met.first - _grains(barline, grain)) // list_length
            rows.append(Row(index + count * first_pass, count * met.step // list_length))
    return rows


def _shortest_period(residues: set[int], modulus: int) -> int:
    """Return the least step under which the set of residues stays the same; it divides ``modulus``."""
    common = gcd(len(residues), modulus)
    for parts in range(common, 1, -1):
        if common % parts == 0:
            step = modulus // parts
            if all((residue + step) % modulus in residues for residue in residues):
                return step
    return modulus


def _grains(part: Fraction, grain: int) -> int:
    return part.numerator * (grain // part.denominator)
