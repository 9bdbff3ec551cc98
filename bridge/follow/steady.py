"""How long a beat has been, for as long as the tempo has not moved: to bridge silences by.

The grid of the clock allows for a tempo that walks; most hosts keep theirs to the digit.
Where the last beats stand on one straight line, as nearly as they are known, its slope is
ten times surer than the grid's own period.  This file does not know single ticks.
"""

from __future__ import annotations

from collections import deque
from math import sqrt

from bridge.follow.grid import Grid

__all__ = ["Steady"]

_APART = 24
_MOST, _FEWEST = 16, 6
_STRAIGHT = 1.5
"""Residuals up to so many standard errors of the grid are those of a straight line."""


class Steady:
    """The last beats of one count: each a tick's number, and when it was due."""

    __slots__ = ("_beats",)

    def __init__(self) -> None:
        self._beats: deque[tuple[int, float]] = deque(maxlen=_MOST)

    def clear(self) -> None:
        """Forget the beats: the count or the clock has jumped."""
        self._beats.clear()

    def note(self, grid: Grid) -> None:
        """Take the grid's newest tick if a beat has passed since the last one taken."""
        if not self._beats or grid.number - self._beats[-1][0] >= _APART:
            self._beats.append((grid.number, grid.time))

    def period(self, grid: Grid) -> float:
        """Return the best guess of the period to come: the beats' own where they are steady."""
        slope = self._slope(grid)
        return grid.period if slope is None else slope

    def is_steady(self, grid: Grid) -> bool:
        """Tell whether the beats stand on one straight line."""
        return self._slope(grid) is not None

    def is_moving(self, grid: Grid) -> bool:
        """Tell whether there are beats enough to see that the tempo is not steady."""
        return len(self._beats) >= _FEWEST and self._slope(grid) is None

    def _slope(self, grid: Grid) -> float | None:
        """Return the beats' period; None where they are too few, or on no straight line."""
        if len(self._beats) < _FEWEST:
            return None
        points = [*self._beats, (grid.number, grid.time)]
        middle = sum(number for number, _ in points) / len(points)
        mean = sum(time for _, time in points) / len(points)
        spread = sum((number - middle) ** 2 for number, _ in points)
        slope = sum((number - middle) * (time - mean) for number, time in points) / spread
        left = sum((time - mean - slope * (number - middle)) ** 2 for number, time in points)
        straight = sqrt(left / (len(points) - 2)) <= _STRAIGHT * grid.error
        return slope if straight and abs(slope - grid.period) <= 3 * grid.period_error else None
