"""Meters, repeating lists of meters, and the beats that players count.

The counted beat follows ordinary theory of meter: in a compound meter (upper
number 6, 9, 12 ...) three units make a beat, in an additive one (2+2+3/8) each
group does; else the unit itself.  Common practice, no source.  This file knows
nothing about tempo.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from bridge.errors import PlanError
from bridge.exact.number import MAX_DIGITS
from bridge.exact.quantity import Length

__all__ = ["Meter", "Meters"]

_METER = re.compile(r"\s*([0-9]+(?:\s*\+\s*[0-9]+)*)\s*/\s*([0-9]+)\s*", re.ASCII)
_DIGITS = re.compile(r"[0-9]+", re.ASCII)
_UNITS = (1, 2, 4, 8, 16, 32, 64)


@dataclass(frozen=True, slots=True)
class Meter:
    """One meter: the groups of its upper number, and its unit (lower number)."""

    groups: tuple[int, ...]
    unit: int

    def __post_init__(self) -> None:
        if self.unit not in _UNITS:
            raise PlanError(f"a meter's lower number is a power of two up to 64, not {self.unit}")
        if not self.groups or min(self.groups) < 1:
            raise PlanError(f"a meter's upper number is 1 or more, not {'+'.join(map(str, self.groups))}")

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read ``4/4`` or ``2+2+3/8``; PlanError for anything else."""
        match = _METER.fullmatch(text)
        if match is None or max(map(len, _DIGITS.findall(text))) > MAX_DIGITS:
            shown = text if len(text) <= 40 else text[:37] + "..."
            raise PlanError(f"a meter cannot be {shown!r}", hint="Write it as 4/4, 6/8 or 2+2+3/8.")
        return cls(tuple(int(part) for part in match[1].split("+")), int(match[2]))

    @property
    def top(self) -> int:
        """The upper number, groups added up."""
        return sum(self.groups)

    @property
    def length(self) -> Length:
        """One bar."""
        return Length(Fraction(self.top, self.unit))

    @property
    def beat(self) -> Length:
        """The beat of a written place such as 13.3: one lower-number note."""
        return Length(Fraction(1, self.unit))

    @property
    def counted(self) -> tuple[Length, ...]:
        """The beats that players count in one bar, in order; they add up to the bar."""
        if len(self.groups) > 1:
            return tuple(Length(Fraction(group, self.unit)) for group in self.groups)
        if self.top > 3 and self.top % 3 == 0:
            return (Length(Fraction(3, self.unit)),) * (self.top // 3)
        return (self.beat,) * self.top

    def __str__(self) -> str:
        return f"{'+'.join(map(str, self.groups))}/{self.unit}"


@dataclass(frozen=True)
class Meters:
    """A list of meters that repeats, bar by bar; most often a list of one."""

    row: tuple[Meter, ...]

    def __post_init__(self) -> None:
        if not self.row:
            raise PlanError("a list of meters names at least one meter")

    @classmethod
    def parse(cls, text: str) -> Meters:
        """Read ``4/4`` or a repeating list, ``4/4,4/4,7/8``."""
        return cls(tuple(Meter.parse(part) for part in text.split(",")))

    @property
    def length(self) -> Length:
        """One pass through the list."""
        return Length(self._starts[-1])

    def bar(self, number: int) -> Meter:
        """Return the meter of bar ``number``, counted from 1 where the list begins."""
        return self.row[(number - 1) % len(self.row)]

    def of_bars(self, bars: int) -> Length:
        """Return the length of the first ``bars`` bars: W(n) of the contract on costs.

        Negative counts reach backwards, through the list in reverse.
        """
        passes, rest = divmod(bars, len(self.row))
        return Length(passes * self._starts[-1] + self._starts[rest])

    def bars_in(self, length: Length) -> int | None:
        """Count the bars that fill ``length`` exactly from where the list begins, or None."""
        bars = self.bars_within(length)
        return bars if self.of_bars(bars) == length else None

    def bars_within(self, length: Length) -> int:
        """Count the whole bars from where the list begins that end at or before ``length``."""
        passes, rest = divmod(length.whole_notes, self._starts[-1])
        return passes * len(self.row) + bisect_right(self._starts, rest) - 1

    def show_place(self, since_start: Length) -> str:
        """Write where ``since_start`` falls, counted from where the list begins: ``13.1``, ``13.3+1/16``."""
        before = self.bars_within(since_start)
        meter = self.bar(before + 1)
        into = since_start - self.of_bars(before)
        beyond = into % meter.beat
        return f"{before + 1}.{into // meter.beat + 1}" + (f"+{beyond}" if beyond else "")

    @cached_property
    def _starts(self) -> tuple[Fraction, ...]:
        starts = [Fraction(0)]
        for meter in self.row:
            starts.append(starts[-1] + meter.length.whole_notes)
        return tuple(starts)

    def __str__(self) -> str:
        return ",".join(map(str, self.row))
