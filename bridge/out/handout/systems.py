"""How a stretch is laid out on the page: how many bars a system, how high a lane.

Sizes in points on an A4 page, landscape.  This file draws nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.exact import Place
from bridge.out.handout.stretch import Stretch, last_bars
from bridge.out.scene import Box

__all__ = ["HEIGHT", "MARGIN", "WIDTH", "Layout", "System", "laid_out"]

WIDTH, HEIGHT, MARGIN = 841.89, 595.28, 30.0
_LABELS = 88.0
_RIGHT = 10.0
_TITLE = 50.0
_KEY = 22.0
_HEAD, _COUNT, _GAP = 17.0, 15.0, 14.0
_THINNEST, _WISHED, _TALLEST = 3.0, 21.0, 44.0
"""A lane is at least wished for this high when bars are dealt out, and grows into what is left."""
_TIDY = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256)
_LEAST_TURN = 2.4
"""Points: a turn narrower than this cannot be seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """One line of music: its bars, and where its head, lanes and counts stand."""

    first_bar: int
    bars: int
    start: Place
    end: Place
    head: Box
    lanes: tuple[Box, ...]
    counts: tuple[Box, ...]
    points_per_whole_note: float

    def x(self, place: Place) -> float:
        """Return the x of ``place``."""
        return self.head.left + float((place - self.start).whole_notes) * self.points_per_whole_note


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The systems of one page, and the stretch that they show: its end, where it is too long."""

    stretch: Stretch
    systems: tuple[System, ...]
    left_out: int
    """How many bars at the beginning are not shown."""


def laid_out(stretch: Stretch, *, counts: int) -> Layout:
    """Lay ``stretch`` out with ``counts`` rows of syllables under each system.

    As few bars a system as the page allows: so turns are as wide as they can be.
    """
    room = HEIGHT - 2 * MARGIN - _TITLE - _KEY
    lanes = len(stretch.parts)
    lane = max(_THINNEST, min(_WISHED, (room - _HEAD - _GAP - counts * _COUNT) / lanes))
    each = _HEAD + lanes * lane + counts * _COUNT + _GAP
    systems = max(1, int((room + _GAP) // each))
    width = WIDTH - 2 * MARGIN - _LABELS - _RIGHT
    shown = last_bars(stretch, _readable(stretch, systems, width))
    a_system = _tidy(-(-shown.bars // systems))
    rows = -(-shown.bars // a_system)
    spare = (room + _GAP) / rows - _HEAD - counts * _COUNT - _GAP
    lane = min(_TALLEST, max(_THINNEST, spare / lanes))
    return Layout(
        stretch=shown,
        systems=tuple(
            _system(shown, number, a_system, lane=lane, counts=counts, width=width) for number in range(rows)
        ),
        left_out=stretch.bars - shown.bars,
    )


def _readable(stretch: Stretch, systems: int, width: float) -> int:
    """Return how many bars can be shown with the shortest turn still visible; at least one pass of meters."""
    turns = systems * width / _LEAST_TURN
    whole_notes = turns * float(stretch.shortest_turn.whole_notes)
    row = len(stretch.meters.row)
    return max(row, int(whole_notes / float(stretch.meters.length.whole_notes)) * row)


def _tidy(bars: int) -> int:
    return next((tidy for tidy in _TIDY if tidy >= bars), bars)


def _system(
    stretch: Stretch, number: int, a_system: int, *, lane: float, counts: int, width: float
) -> System:
    lanes = len(stretch.parts)
    high = _HEAD + lanes * lane + counts * _COUNT + _GAP
    top = MARGIN + _TITLE + number * high
    left = MARGIN + _LABELS
    first = stretch.first_bar + number * a_system
    bars = min(a_system, stretch.bars - number * a_system)
    start, end = stretch.barline(first), stretch.barline(first + bars)
    widest = max(
        float((stretch.barline(at + min(a_system, stretch.bars)) - stretch.barline(at)).whole_notes)
        for at in (stretch.first_bar + row * a_system for row in range(max(1, stretch.bars // a_system)))
    )
    below = top + _HEAD + lanes * lane
    return System(
        first_bar=first,
        bars=bars,
        start=start,
        end=end,
        head=Box(left, top, width, _HEAD),
        lanes=tuple(Box(left, top + _HEAD + index * lane, width, lane) for index in range(lanes)),
        counts=tuple(Box(left, below + index * _COUNT, width, _COUNT) for index in range(counts)),
        points_per_whole_note=width / widest,
    )
