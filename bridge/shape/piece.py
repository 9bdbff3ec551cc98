"""One section as the search sees it: whole numbers for bars, seconds and cost.

Seconds are counted in units of 1/``per_second`` s, chosen so that every section's
seconds are whole; cost in units finer by the weights' denominators.  Under a ramp a
section's seconds are rounded to a nanosecond, and a wish in bars then costs a fraction
of a unit: likely such costs are made whole by finer units, the others stay fractions.
This file knows nothing about other sections.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm

import numpy as np

from bridge.exact import NANOSECOND, Bars, seconds_of, seconds_per_whole_note
from bridge.plan.model import Section
from bridge.shape.ladder import Ladder
from bridge.shape.numbers import Array, array
from bridge.shape.phases import Part

__all__ = ["Cost", "Listing", "Piece", "Scale", "fineness", "seconds_unit"]

Cost = int | Fraction

_NEAR = 200
"""Rungs on either side of a wish that are listed at once."""
_LIKELY = 64
"""Bars on either side of a wish whose costs are made whole; farther out they stay fractions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """How many units make a second, and how many cost units make a unit of weight 1."""

    per_second: int
    per_weight: int


def seconds_unit(section: Section) -> int:
    """Return the least number of units a second in which the section's lengths and wish are whole."""
    spans = [section.about.value] if section.about and not isinstance(section.about, Bars) else []
    if section.tempo.is_constant:
        bars = range(1, len(section.meters.row) + 1)
        spans += [seconds_of(section.meters.of_bars(n), section.tempo) for n in bars]
    else:
        spans.append(NANOSECOND)
    unit = 1
    for span in spans:
        unit *= Fraction(span * unit).denominator
    return unit


def fineness(section: Section) -> int:
    """Return into how many parts a cost unit has to be split for this section's likely costs to be whole.

    1, but under a ramp with a wish in bars: |W(n) - W(N)|·seconds/W(n) then has the bottom
    W(n)/gcd(W(n), W(N)), which differs from length to length.
    """
    about = section.about
    if section.tempo.is_constant or not isinstance(about, Bars):
        return 1
    unit = lcm(*(meter.length.whole_notes.denominator for meter in section.meters.row))
    wish = (section.meters.of_bars(about.count).whole_notes * unit).numerator
    parts = 1
    for bars in range(max(1, about.count - _LIKELY), about.count + _LIKELY + 1):
        notes = (section.meters.of_bars(bars).whole_notes * unit).numerator
        parts = lcm(parts, notes // gcd(notes, wish))
    return parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """Seconds and costs of the rungs ``low`` to ``high`` of a ladder, in 64 bits."""

    low: int
    high: int
    bars: Array
    seconds: Array
    costs: Array
    most_seconds: int
    most_cost: int


class Piece:
    """A section's seconds and cost by its number of bars, and the bars it may have."""

    __slots__ = (
        "_about",
        "_bar",
        "_listing",
        "_per_grain",
        "_row",
        "_units",
        "_weight",
        "ladder",
        "part",
        "section",
    )

    def __init__(self, part: Part, scale: Scale, ladder: Ladder) -> None:
        self.part = part
        self.section = section = part.section
        self.ladder = ladder
        weight = section.weight * scale.per_weight
        self._weight = weight.numerator if section.about is not None else 0
        starts = part.grain.starts
        grain = section.meters.length.whole_notes / starts[-1]
        self._per_grain = grain * seconds_per_whole_note(section.tempo)
        self._bar = starts[-1] * self._per_grain * scale.per_second / len(section.meters.row)
        self._units = scale.per_second
        self._row: tuple[int, ...] = ()
        if section.tempo.is_constant:
            self._row = tuple((start * self._per_grain * scale.per_second).numerator for start in starts)
        self._about = self._wish()
        self._listing: Listing | None = None

    @property
    def index(self) -> int:
        """Its place in the song, from 0."""
        return self.section.index

    @property
    def weight(self) -> int:
        """The cost of one unit of seconds off its wish; 0 without a wish."""
        return self._weight

    @property
    def wish(self) -> int:
        """The wish in units of seconds; 0 without one."""
        return self._about or 0

    @property
    def is_smooth(self) -> bool:
        """Whether its seconds are an exact multiple of its length: not under a ramp."""
        return bool(self._row)

    def seconds(self, bars: int) -> int:
        """Return the units of seconds that ``bars`` bars last."""
        if self._row:
            passes, rest = divmod(bars, len(self._row) - 1)
            return passes * self._row[-1] + self._row[rest]
        nanoseconds = self.part.grain.of_bars(bars) * self._per_grain / NANOSECOND
        return round(nanoseconds) * (self._units // NANOSECOND.denominator)

    def all_seconds(self, bars: Array) -> Array:
        """Return :meth:`seconds` for an array of bars; only where it :attr:`is_smooth`."""
        row = array(self._row)
        passes, rest = bars // (len(row) - 1), bars % (len(row) - 1)
        longest = (int(passes.max()) + 1) * self._row[-1]
        wide = array([longest]).dtype == object
        found: Array = (passes.astype(object) if wide else passes) * row[-1] + row[rest]
        return found

    def near_wish(self) -> Listing | None:
        """Return the lengths nearest the wish, listed once; None under a ramp or beyond 64 bits."""
        if self._listing is None and self._row:
            middle = self.ladder.rung_at(self.most_bars_within(self.wish))
            self._listing = self._listed(middle - _NEAR, middle + _NEAR)
        return self._listing

    def _listed(self, low: int, high: int) -> Listing | None:
        ladder = self.ladder
        low, high = min(max(low, ladder.first), ladder.top), max(min(high, ladder.top), ladder.first)
        longest = self.seconds(ladder.bars(high))
        dearest = self._weight * max(longest, self.wish)
        if max(longest, dearest) >= 1 << 62:
            return None
        rungs = np.arange(low, high + 1)
        firsts = np.array(ladder.firsts, dtype=np.int64)
        bars = firsts[rungs % len(firsts)] + rungs // len(firsts) * ladder.period
        row = np.array(self._row, dtype=np.int64)
        seconds = bars // (len(row) - 1) * row[-1] + row[bars % (len(row) - 1)]
        return Listing(
            low=low,
            high=high,
            bars=bars,
            seconds=seconds,
            costs=self._weight * np.abs(seconds - self.wish),
            most_seconds=longest,
            most_cost=dearest,
        )

    def cost(self, bars: int) -> Cost:
        """Return the cost units of ``bars`` bars."""
        if not self._weight:
            return 0
        if self._about is not None:
            return self._weight * abs(self.seconds(bars) - self._about)
        grains = self.part.grain.of_bars(bars)
        whole, rest = divmod(self._weight * self._grains_off(bars) * self.seconds(bars), grains)
        return whole + Fraction(rest, grains) if rest else whole

    def smooth_seconds(self, bars: int) -> Cost:
        """Return the seconds before rounding to a nanosecond: exactly linear in the length."""
        return (
            self.seconds(bars) if self._row else self.part.grain.of_bars(bars) * self._units * self._per_grain
        )

    def smooth_cost(self, bars: int) -> Cost:
        """Return the cost of :meth:`smooth_seconds`: exactly convex in the length."""
        if self._row or not self._weight:
            return self.cost(bars)
        if self._about is not None:
            return abs(Fraction(self.smooth_seconds(bars)) - self._about) * self._weight
        return self._per_grain * (self._weight * self._grains_off(bars) * self._units)

    def roughness(self) -> tuple[Cost, Cost]:
        """Bound how far seconds, and cost, lie from their smooth forms; both 0 without a ramp."""
        if self._row:
            return 0, 0
        half = NANOSECOND / 2 * self._units
        if self._about is not None or not self._weight:
            return half, self._weight * half
        shortest = self.part.grain.of_bars(max(1, self.ladder.lowest))
        off: Fraction = max(Fraction(1), Fraction(self._grains_off(0), shortest))
        return half, self._weight * half * off

    def most_bars_within(self, seconds: int) -> int:
        """Return the most bars (0 or more) that last at most ``seconds`` units."""
        if seconds < 0:
            return 0
        guess = int(Fraction(seconds) / self._bar)
        low = max(0, guess - len(self.section.meters.row) - 1)
        high = guess + len(self.section.meters.row) + 2
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self.seconds(middle) <= seconds else (low, middle)
        return low

    def _wish(self) -> int | None:
        """Return the wish in units of seconds, or None: under a ramp a wish in bars is none in seconds."""
        about = self.section.about
        if about is None:
            return None
        if not isinstance(about, Bars):
            return (about.value * self._units).numerator
        return self.seconds(about.count) if self._row else None

    def _grains_off(self, bars: int) -> int:
        """Return how far ``bars`` bars are from a wish in bars."""
        about = self.section.about
        wished = about.count if isinstance(about, Bars) else bars
        return abs(self.part.grain.of_bars(bars) - self.part.grain.of_bars(wished))
