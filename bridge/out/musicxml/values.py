"""Note values: names, dots, tuplets, and how a length is spelled as tied values.

Lengths are exact, in whole notes.  This file knows nothing about bars or XML.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

__all__ = ["SHORTEST", "Tuplet", "Value", "is_written", "spelled", "tuplet_for"]

_NAMES = {
    Fraction(2): "breve",
    Fraction(1): "whole",
    Fraction(1, 2): "half",
    Fraction(1, 4): "quarter",
    Fraction(1, 8): "eighth",
    Fraction(1, 16): "16th",
    Fraction(1, 32): "32nd",
    Fraction(1, 64): "64th",
    Fraction(1, 128): "128th",
    Fraction(1, 256): "256th",
}
SHORTEST = Fraction(1, 256)
"""The shortest value that we write; MusicXML names shorter ones, but nobody reads them."""
_MOST_NOTES = 33
"""A tuplet of more notes than this is not written: nobody could count it."""


@dataclass(frozen=True, slots=True)
class Value:
    """One written value: ``whole_notes`` is what it stands for outside any tuplet."""

    whole_notes: Fraction

    @property
    def dots(self) -> int:
        """0 or 1."""
        return 1 if self.whole_notes.numerator == 3 else 0

    @property
    def name(self) -> str:
        """Its name in MusicXML, the dot left out."""
        return _NAMES[self.whole_notes * Fraction(2, 3) if self.dots else self.whole_notes]

    @property
    def flags(self) -> int:
        """How many flags or beams it has."""
        base = self.whole_notes * Fraction(2, 3) if self.dots else self.whole_notes
        return max(0, base.denominator.bit_length() - 3)


@dataclass(frozen=True, slots=True)
class Tuplet:
    """``actual`` notes of one value in the time of ``normal``."""

    actual: int
    normal: int
    unit: Value

    @property
    def ratio(self) -> Fraction:
        """How long a value in it sounds, as a share of what it is written as."""
        return Fraction(self.normal, self.actual)


def is_written(length: Fraction) -> bool:
    """Tell whether ``length`` is a multiple of the shortest value: so it can be written without a tuplet."""
    return (length / SHORTEST).denominator == 1


def spelled(start: Fraction, end: Fraction, beats: Iterable[Fraction]) -> list[Value]:
    """Spell the time from ``start`` to ``end`` in a bar as values to be tied, beats kept in sight.

    ``beats`` are the counted beats of the bar, its end included.  From a beat on a value may
    last to a later beat; else it stays within its beat.  Both ends must be written lengths.
    """
    borders = sorted(beats)
    found = []
    while start < end:
        limit = next(beat for beat in borders if beat > start)
        value = _on_a_beat(start, end, borders) if start in borders or not start else None
        if value is None:
            value = _within(start, min(end, limit))
        found.append(Value(value))
        start += value
    return found


def _on_a_beat(start: Fraction, end: Fraction, borders: list[Fraction]) -> Fraction | None:
    """Return the longest value from a beat that ends on a later one, or exactly at the end."""
    for value in _LONGEST_FIRST:
        if value <= end - start and (start + value in borders):
            return value
    return None


def _within(start: Fraction, end: Fraction) -> Fraction:
    """Return one value for all of it, else the longest that stands where notes of its length stand."""
    if end - start in _LONGEST_FIRST:
        return end - start
    return next(value for value in _NAMES if value <= end - start and not start % value)


_LONGEST_FIRST = sorted(
    [*_NAMES, *(value * Fraction(3, 2) for value in _NAMES if value > SHORTEST)], reverse=True
)


def tuplet_for(span: Fraction, borders: Iterable[Fraction]) -> Tuplet | None:
    """Return the tuplet that fills ``span`` with a note at each of ``borders``; None: too many notes.

    ``borders`` are lengths from the span's start.
    """
    units = 1
    for border in borders:
        units = lcm(units, (border / span).denominator)
    if not 1 < units <= _MOST_NOTES:
        return None
    counts = [
        (span / value).numerator for value in _NAMES if (span / value).denominator == 1 and value <= span
    ]
    if not counts:
        return None
    # By custom the written values are the next longer ones: five in the time of four.
    fewer = [count for count in counts if count <= units]
    normal = max(fewer) if fewer else min(counts)
    return Tuplet(actual=units, normal=normal, unit=Value(span / normal))
