"""One section as the search sees it: whole numbers for bars, seconds and cost.

Seconds are counted in units of 1/``per_second`` s, chosen so that every section's
seconds are whole; cost in units finer by the weights' denominators.  Under a ramp a
section's seconds are rounded to a nanosecond, and a wish in bars then costs a fraction
of a unit: such costs stay fractions.  This file knows nothing about other sections.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.exact import NANOSECOND, Bars, seconds_of, seconds_per_whole_note
from bridge.plan.model import Section
from bridge.shape.ladder import Ladder
from bridge.shape.phases import Part

__all__ = ["Cost", "Piece", "Scale", "seconds_unit"]

Cost = int | Fraction


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


class Piece:
    """A section's seconds and cost by its number of bars, and the bars it may have."""

    __slots__ = ("_about", "_bar", "_per_whole_note", "_row", "_scale", "_weight", "ladder", "part", "section")

    def __init__(self, part: Part, scale: Scale, ladder: Ladder) -> None:
        self.part = part
        self.section = section = part.section
        self.ladder = ladder
        self._scale = scale
        weight = section.weight * scale.per_weight
        self._weight = weight.numerator if section.about is not None else 0
        starts = [section.meters.of_bars(n) for n in range(len(section.meters.row) + 1)]
        rate = seconds_per_whole_note(section.tempo) * scale.per_second
        self._per_whole_note = rate
        self._row: tuple[int, ...] = ()
        if section.tempo.is_constant:
            self._row = tuple((length.whole_notes * rate).numerator for length in starts)
        self._bar = starts[-1].whole_notes * rate / len(section.meters.row)
        self._about = self._wish()

    @property
    def index(self) -> int:
        """Its place in the song, from 0."""
        return self.section.index

    @property
    def weight(self) -> int:
        """The cost of one unit of seconds off its wish; 0 without a wish."""
        return self._weight

    @property
    def is_smooth(self) -> bool:
        """Whether its seconds are an exact multiple of its length: not under a ramp."""
        return bool(self._row)

    def seconds(self, bars: int) -> int:
        """Return the units of seconds that ``bars`` bars last."""
        if self._row:
            passes, rest = divmod(bars, len(self._row) - 1)
            return passes * self._row[-1] + self._row[rest]
        rounded = seconds_of(self.section.meters.of_bars(bars), self.section.tempo)
        return (rounded * self._scale.per_second).numerator

    def cost(self, bars: int) -> Cost:
        """Return the cost units of ``bars`` bars."""
        if not self._weight:
            return 0
        if self._about is not None:
            return self._weight * abs(self.seconds(bars) - self._about)
        return self._weight * self._notes_off(bars) * self.seconds(bars) / self._notes(bars)

    def smooth_seconds(self, bars: int) -> Cost:
        """Return the seconds before rounding to a nanosecond: exactly linear in the length."""
        return self.seconds(bars) if self._row else self._notes(bars) * self._per_whole_note

    def smooth_cost(self, bars: int) -> Cost:
        """Return the cost of :meth:`smooth_seconds`: exactly convex in the length."""
        if self._row or not self._weight:
            return self.cost(bars)
        if self._about is not None:
            return self._weight * abs(self.smooth_seconds(bars) - self._about)
        return self._weight * self._notes_off(bars) * self._per_whole_note

    def roughness(self) -> tuple[Cost, Cost]:
        """Bound how far seconds, and cost, lie from their smooth forms; both 0 without a ramp."""
        if self._row:
            return 0, 0
        half = NANOSECOND / 2 * self._scale.per_second
        if self._about is not None or not self._weight:
            return half, self._weight * half
        shortest = self._notes(max(1, self.ladder.lowest))
        return half, self._weight * half * max(Fraction(1), self._notes(self._wish_bars()) / shortest)

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
        """The wish in units of seconds, where it has one; under a ramp a wish in bars has none."""
        about = self.section.about
        if about is None:
            return None
        if not isinstance(about, Bars):
            return (about.value * self._scale.per_second).numerator
        return self.seconds(about.count) if self._row else None

    def _wish_bars(self) -> int:
        if not isinstance(self.section.about, Bars):
            raise ValueError(f"the wish of {self.section.name!r} is not in bars")
        return self.section.about.count

    def _notes(self, bars: int) -> Fraction:
        return self.section.meters.of_bars(bars).whole_notes

    def _notes_off(self, bars: int) -> Fraction:
        return abs(self._notes(bars) - self._notes(self._wish_bars()))
