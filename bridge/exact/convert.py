"""The one module that turns places into seconds, ticks and samples.

Rounding, and its bound:

* At a constant tempo seconds are exact rationals.
* Under a ramp from b0 to b1 over L quarters, linear in musical position, a length
  takes 60·L/(b1−b0)·ln(b1/b0) seconds, which no rational equals.  A whole section
  is rounded to the nearest nanosecond (at most 0.5 ns off) and is exact from there;
  a place inside it is computed with 40 digits and rounded the same way.
* Ticks and samples are the nearest whole number, halves to even: at most half a
  tick or half a sample off.

This file knows nothing about sections, files or hosts.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise
from math import lcm, log1p

from bridge.exact.quantity import Length, Place
from bridge.exact.tempo import Tempo

__all__ = [
    "NANOSECOND",
    "Stretch",
    "TempoMap",
    "exact_ticks",
    "samples",
    "samples_along",
    "seconds_of",
    "seconds_per_whole_note",
    "ticks",
]

NANOSECOND = Fraction(1, 10**9)
_CONTEXT = Context(prec=40)
_DOUBT = 1e-3
"""Nearer than this many samples to a half, doubles do not decide which sample is nearest."""


@lru_cache(maxsize=1024)
def seconds_per_whole_note(tempo: Tempo) -> Fraction:
    """Return the seconds that one whole note takes on average over a section at ``tempo``.

    Exact for a constant tempo; for a ramp, the closed form to 40 digits (not yet
    rounded to a nanosecond: :func:`seconds_of` does that for the section).
    """
    if tempo.is_constant:
        return 240 / tempo.start
    return 240 * _ln(tempo.end / tempo.start) / (tempo.end - tempo.start)


def seconds_of(length: Length, tempo: Tempo) -> Fraction:
    """Return the seconds that a whole section of ``length`` takes, its tempo spread over all of it."""
    seconds = length.whole_notes * seconds_per_whole_note(tempo)
    return seconds if tempo.is_constant else _to_nanosecond(seconds)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of the song with one tempo: a whole section of it, longer than 0."""

    start: Place
    length: Length
    tempo: Tempo

    def __post_init__(self) -> None:
        if self.length <= Length(0):
            raise ValueError(f"a stretch of the tempo map is longer than 0, not {self.length}")


@dataclass(frozen=True)
class TempoMap:
    """Musical place to seconds and back, for stretches that follow one another.

    Before the first stretch its starting tempo holds, after the last its ending one.
    Second 0 is the start of the first stretch.
    """

    stretches: tuple[Stretch, ...]

    def __post_init__(self) -> None:
        if not self.stretches:
            raise ValueError("a tempo map has at least one stretch")
        for before, after in pairwise(self.stretches):
            if before.start + before.length != after.start:
                raise ValueError(
                    f"a stretch ends at {before.start + before.length}, the next starts at {after.start}"
                )

    @property
    def total_seconds(self) -> Fraction:
        """Seconds from the start of the first stretch to the end of the last."""
        return self._seconds[-1]

    def seconds(self, place: Place) -> Fraction:
        """Return the seconds at ``place``: exact outside ramps, to a nanosecond inside them."""
        first, last = self.stretches[0], self.stretches[-1]
        if place <= first.start:
            return (place - first.start).whole_notes * 240 / first.tempo.start
        end = last.start + last.length
        if place >= end:
            return self._seconds[-1] + (place - end).whole_notes * 240 / last.tempo.end
        index = bisect_right(self._starts, place) - 1
        stretch = self.stretches[index]
        return self._seconds[index] + _seconds_into(stretch, place - stretch.start)

    def place(self, seconds: Fraction) -> Place:
        """Return the place at ``seconds``: exact outside ramps, to 2^-48 of a whole note inside."""
        first, last = self.stretches[0], self.stretches[-1]
        if seconds <= 0:
            return first.start + Length(seconds * first.tempo.start / 240)
        if seconds >= self._seconds[-1]:
            over = (seconds - self._seconds[-1]) * last.tempo.end / 240
            return last.start + last.length + Length(over)
        index = bisect_right(self._seconds, seconds) - 1
        stretch = self.stretches[index]
        return stretch.start + _length_after(stretch, seconds - self._seconds[index])

    def stretch_at(self, place: Place) -> Stretch:
        """Return the stretch that ``place`` lies in: the first before the song, the last after it."""
        return self.stretches[max(0, bisect_right(self._starts, place) - 1)]

    def bpm(self, place: Place) -> Fraction:
        """Return the quarter notes a minute at ``place``; at a border, those of the stretch that begins."""
        first, last = self.stretches[0], self.stretches[-1]
        if place < first.start:
            return first.tempo.start
        if place >= last.start + last.length:
            return last.tempo.end
        stretch = self.stretches[bisect_right(self._starts, place) - 1]
        return stretch.tempo.at((place - stretch.start).whole_notes / stretch.length.whole_notes)

    @cached_property
    def _starts(self) -> tuple[Place, ...]:
        return tuple(stretch.start for stretch in self.stretches)

    @cached_property
    def _seconds(self) -> tuple[Fraction, ...]:
        sums = [Fraction(0)]
        for stretch in self.stretches:
            sums.append(sums[-1] + seconds_of(stretch.length, stretch.tempo))
        return tuple(sums)


def samples(seconds: Fraction, rate: Fraction | int) -> int:
    """Return the sample nearest to ``seconds``, at ``rate`` a second; at most half a sample off."""
    return round(seconds * rate)


def samples_along(
    tempo_map: TempoMap,
    first: Place,
    step: Length,
    count: int,
    *,
    rate: Fraction | int,
    before: Fraction = Fraction(0),
) -> list[int]:
    """Return the samples of ``count`` places, ``step`` apart, in one stretch of ``tempo_map`` or before it.

    The same numbers as ``samples(before + seconds(place), rate)`` one by one, but quick:
    whole-number arithmetic at a constant tempo; in a ramp doubles, whose error is far
    below a thousandth of a sample, and the exact way wherever the half is nearer than that.
    """
    stretch = tempo_map.stretch_at(first)
    if stretch.tempo.is_constant or first < stretch.start:
        start = (before + tempo_map.seconds(first)) * rate
        return _nearest_in_row(start, step.whole_notes * 240 / stretch.tempo.start * rate, count)
    begins = float(before + tempo_map.seconds(stretch.start))
    return [
        round(seconds * float(rate))
        if abs(seconds * float(rate) % 1 - 0.5) > _DOUBT
        else samples(before + tempo_map.seconds(first + step * number), rate)
        for number, seconds in enumerate(_in_ramp(stretch, begins, first, step, count))
    ]


def exact_ticks(length: Length, per_quarter: int) -> Fraction:
    """Return the ticks in ``length``, unrounded: a whole number where the division can hold it."""
    return length.quarters * per_quarter


def ticks(length: Length, per_quarter: int) -> int:
    """Return the whole number of ticks nearest to ``length``; at most half a tick off."""
    return round(exact_ticks(length, per_quarter))


def _seconds_into(stretch: Stretch, into: Length) -> Fraction:
    tempo = stretch.tempo
    if tempo.is_constant:
        return into.whole_notes * 240 / tempo.start
    slope = (tempo.end - tempo.start) / stretch.length.quarters
    here = tempo.start + slope * into.quarters
    return _to_nanosecond(60 * _ln(here / tempo.start) / slope)


def _nearest_in_row(start: Fraction, step: Fraction, count: int) -> list[int]:
    """Return ``round(start + number * step)`` for each number up to ``count``, halves to even."""
    below = lcm(start.denominator, step.denominator)
    at = start.numerator * (below // start.denominator)
    each = step.numerator * (below // step.denominator)
    found = []
    for doubled in range(2 * at + below, 2 * (at + count * each) + below, 2 * each):
        whole, rest = divmod(doubled, 2 * below)
        found.append(whole if rest else whole - whole % 2)
    return found


def _in_ramp(stretch: Stretch, begins: float, first: Place, step: Length, count: int) -> Iterator[float]:
    """Walk through the seconds of places ``step`` apart in a ramp that begins at second ``begins``."""
    bpm = float(stretch.tempo.start)
    slope = float((stretch.tempo.end - stretch.tempo.start) / stretch.length.quarters)
    into, each = float((first - stretch.start).quarters), float(step.quarters)
    for number in range(count):
        yield begins + 60 * log1p(slope * (into + number * each) / bpm) / slope


def _length_after(stretch: Stretch, seconds: Fraction) -> Length:
    tempo = stretch.tempo
    if tempo.is_constant:
        return Length(seconds * tempo.start / 240)
    slope = (tempo.end - tempo.start) / stretch.length.quarters
    grown = _decimal(seconds * slope / 60).exp(_CONTEXT)
    quarters = tempo.start * (Fraction(grown) - 1) / slope
    return Length(Fraction(round(quarters / 4 * 2**48), 2**48))


def _ln(ratio: Fraction) -> Fraction:
    return Fraction(_decimal(ratio).ln(_CONTEXT))


def _decimal(value: Fraction) -> Decimal:
    return _CONTEXT.divide(Decimal(value.numerator), Decimal(value.denominator))


def _to_nanosecond(seconds: Fraction) -> Fraction:
    return round(seconds / NANOSECOND) * NANOSECOND
