"""A row of instants, and the ones among them at which every layer is nearly home.

Each layer is near on the members whose remainder lies in a window.  A window that holds
one remainder only is a congruence and joins the row itself; the others are leapt over in
turn, each leap found as Euclid's algorithm finds it, so that no instant in between is
looked at.  This file knows nothing about bars or tempo: it counts in whole grains.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import gcd, lcm

from bridge.cycles.row import Row, first_in_window
from bridge.errors import MusicError

__all__ = ["Lane", "Window", "lane"]

_LEAPS = 100_000
"""The most leaps one question may take before it is given up, aloud."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Member k of a row is near where ``(offset + step*k) mod modulus <= width``."""

    offset: int
    step: int
    modulus: int
    width: int

    def over(self, row: Row) -> Window:
        """Return the same window for the members of ``row`` alone, counted from its first."""
        offset = (self.offset + self.step * row.first) % self.modulus
        return replace(self, offset=offset, step=self.step * row.step % self.modulus)

    @property
    def laps(self) -> int:
        """After how many members the remainders repeat."""
        return self.modulus // gcd(self.step, self.modulus)

    @property
    def near(self) -> int:
        """How many of the remainders that come up lie in the window."""
        common = gcd(self.step, self.modulus)
        low = self.offset % common
        return 0 if low > self.width else min((self.width - low) // common + 1, self.laps)

    def only(self) -> Row:
        """Return the members that are near, as a row, where ``near`` is 1."""
        common = gcd(self.step, self.modulus)
        needed = (self.offset % common - self.offset) // common
        return Row(needed * pow(self.step // common, -1, self.laps) % self.laps, self.laps)

    def leap(self, member: int, direction: int) -> int | None:
        """Return the first near member from ``member`` on, upwards (1) or downwards (-1); None: never."""
        here = (self.offset + self.step * member) % self.modulus
        if here <= self.width:
            return member
        low = self.modulus - here
        times = first_in_window(self.step * direction, self.modulus, low, low + self.width)
        return None if times is None else member + direction * times


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """The members of ``row`` (by their number in it, from 0) that lie in all ``windows``."""

    row: Row
    windows: tuple[Window, ...]

    def at_or_after(self, number: int, last: int | None = None) -> int | None:
        """Return its first number that is ``number`` or more, and ``last`` at most; None: there is none."""
        found = self._search(max(0, -(-(number - self.row.first) // self.row.step)), 1, self._index(last))
        return None if found is None else self.row.first + found * self.row.step

    def at_or_before(self, number: int) -> int | None:
        """Return its last number that is ``number`` or less, or None."""
        if number < self.row.first:
            return None
        found = self._search((number - self.row.first) // self.row.step, -1, 0)
        return None if found is None else self.row.first + found * self.row.step

    def rising(self, number: int, last: int | None = None) -> Iterator[int]:
        """Yield its numbers from ``number`` on, up to ``last``."""
        found = self.at_or_after(number, last)
        while found is not None:
            yield found
            found = self.at_or_after(found + 1, last)

    def _index(self, number: int | None) -> int | None:
        return None if number is None else (number - self.row.first) // self.row.step

    def _search(self, member: int, direction: int, last: int | None) -> int | None:
        start, agreed, leaps = member, 0, 0
        beyond = lcm(*(window.laps for window in self.windows))
        while agreed < len(self.windows):
            landed = self.windows[leaps % len(self.windows)].leap(member, direction)
            if landed is None or abs(landed - start) >= beyond or _passed(landed, last, direction):
                return None
            agreed = agreed + 1 if landed == member else 1
            member, leaps = landed, leaps + 1
            if leaps > _LEAPS:
                raise MusicError(
                    f"no place at which all layers are near enough was found in {_LEAPS} leaps",
                    hint="Ask for a wider tolerance, or for fewer layers at once.",
                )
        return None if _passed(member, last, direction) else member


def lane(row: Row, windows: Sequence[Window]) -> Lane | None:
    """Return the members of ``row`` that lie in all ``windows``, or None where none ever does.

    The windows are given for all whole numbers, as if the row were 0, 1, 2 ...
    """
    waiting = list(windows)
    while True:
        seen = [(window, window.over(row)) for window in waiting]
        if any(narrowed.near == 0 for _, narrowed in seen):
            return None
        one = next((window for window, narrowed in seen if narrowed.near == 1 < narrowed.laps), None)
        if one is None:
            left = tuple(narrowed for _, narrowed in seen if narrowed.near < narrowed.laps)
            return Lane(row=row, windows=left)
        only = one.over(row).only()
        row = Row(row.first + row.step * only.first, row.step * only.step)
        waiting.remove(one)


def _passed(member: int, last: int | None, direction: int) -> bool:
    return last is not None and (last - member) * direction < 0
