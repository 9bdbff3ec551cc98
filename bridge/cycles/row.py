"""Whole numbers in even steps, and where two such rows fall together.

The general Chinese remainder theorem (Ore, American Mathematical Monthly 59, 1952; from memory):
x = a mod m and x = b mod n have a common answer exactly when gcd(m, n) divides
a - b, and then one answer modulo lcm(m, n).  This file knows nothing about music.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from math import gcd

__all__ = ["Row", "first_in_window"]


@dataclass(frozen=True, slots=True)
class Row:
    """``first``, ``first + step``, ... without end; the step is 1 or more."""

    first: int
    step: int

    def __post_init__(self) -> None:
        if self.step < 1:
            raise ValueError(f"the step of a row is 1 or more, not {self.step}")

    def __iter__(self) -> Iterator[int]:
        return count(self.first, self.step)

    def __contains__(self, number: object) -> bool:
        return isinstance(number, int) and number >= self.first and (number - self.first) % self.step == 0

    def at_or_after(self, number: int) -> int:
        """Return its first member that is ``number`` or more."""
        if number <= self.first:
            return self.first
        return number + (self.first - number) % self.step

    def at_or_before(self, number: int) -> int | None:
        """Return its last member that is ``number`` or less, or None before its first."""
        if number < self.first:
            return None
        return number - (number - self.first) % self.step

    def count_to(self, number: int) -> int:
        """Count its members up to and including ``number``."""
        return max(0, (number - self.first) // self.step + 1)

    def met(self, other: Row) -> Row | None:
        """Return the members that both rows have, as a row, or None when there are none."""
        common = gcd(self.step, other.step)
        apart, rest = divmod(other.first - self.first, common)
        if rest:
            return None
        modulus = other.step // common
        times = apart * pow(self.step // common, -1, modulus) % modulus
        together = Row(self.first + self.step * times, self.step * modulus)
        return Row(together.at_or_after(max(self.first, other.first)), together.step)


def first_in_window(step: int, modulus: int, low: int, high: int) -> int | None:
    """Return the least k >= 0 with ``low <= step*k mod modulus <= high``, or None.

    Needs 0 <= low <= high < modulus.  Descends as Euclid's algorithm does, so it takes
    a number of steps that grows with the digits of the modulus, not with k.
    """
    step %= modulus
    if low == 0:
        return 0
    if step == 0:
        return None
    if 2 * step > modulus:
        return first_in_window(modulus - step, modulus, modulus - high, modulus - low)
    times = -(-low // step)
    if times * step <= high:
        return times
    laps = first_in_window(modulus % step, step, -high % step, -low % step)
    if laps is None:
        return None
    return -(-(low + modulus * laps) // step)
