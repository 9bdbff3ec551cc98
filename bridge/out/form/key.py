"""The key: what each mark means, and the sections that are too narrow for their names.

This file knows nothing about where the marks stand.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from bridge.out.form.heads import Heads, tally, titled
from bridge.out.form.lanes import FREE_DASH
from bridge.out.palette import GREY, HAIR, hatch, ink
from bridge.out.scene import BLACK, WHITE, Box, Paint, Rectangle, Shape, line, polyline
from bridge.out.typeface import Typeface
from bridge.song import PlacedSection

__all__ = ["FREE", "PICKUP", "draw_key", "draw_list", "key_height", "list_height"]

_ROW = 12.0
_SIZE = 7.5
_COLUMNS = 8

Entry = tuple[Callable[[float, float], list[Shape]], str]
"""How a mark is drawn in the key, and what it means."""


def _home(x: float, y: float) -> list[Shape]:
    box = Box(x, y - 4, 16, 8)
    marks = [line((x + at, y - 4), (x + at, y + 4), Paint(stroke=BLACK, thickness=0.9)) for at in (5, 10)]
    return [*_sounding(box), *marks, Rectangle(box=box, paint=Paint(stroke=BLACK, thickness=0.7))]


def _barline_home(x: float, y: float) -> list[Shape]:
    box = Box(x, y - 4, 16, 8)
    marks = [line((x + at, y - 4), (x + at, y - 0.5), Paint(stroke=BLACK, thickness=1.3)) for at in (5, 10)]
    return [*_sounding(box), *marks, Rectangle(box=box, paint=Paint(stroke=BLACK, thickness=0.7))]


def _sounding(box: Box) -> list[Shape]:
    its = ink(0)
    hatching = hatch(box, its)
    return [Rectangle(box=box, paint=Paint(fill=its.tint)), *([hatching] if hatching else [])]


def _tacet(x: float, y: float) -> list[Shape]:
    return [line((x, y), (x + 16, y), Paint(stroke=GREY, thickness=0.6, dash=(1, 3)))]


def _meeting(x: float, y: float) -> list[Shape]:
    points = [(x + 8, y - 3.2), (x + 11.2, y), (x + 8, y + 3.2), (x + 4.8, y)]
    return [polyline(points, Paint(fill=WHITE, stroke=BLACK, thickness=0.8), closed=True)]


def _landing(x: float, y: float) -> list[Shape]:
    points = [(x + 8, y - 5), (x + 13, y), (x + 8, y + 5), (x + 3, y)]
    return [polyline(points, Paint(fill=BLACK), closed=True)]


def _running_on(x: float, y: float) -> list[Shape]:
    return [line((x + 8, y - 5), (x + 8, y + 5), Paint(stroke=GREY, thickness=0.8, dash=(3, 2)))]


def _freely(x: float, y: float) -> list[Shape]:
    return [Rectangle(box=Box(x, y - 4, 16, 8), paint=Paint(stroke=BLACK, thickness=0.7, dash=FREE_DASH))]


def _flag(x: float, y: float) -> list[Shape]:
    flag = [(x + 12, y - 4), (x + 5, y), (x + 12, y + 4)]
    return [polyline(flag, Paint(fill=BLACK), closed=True)]


PICKUP, FREE = "pickup", "free: plays without bars or turns"
_ALSO: dict[str, Entry] = {PICKUP: (_flag, PICKUP), FREE: (_freely, FREE)}
"""Marks that stand in the key only where the picture has them."""
_ENTRIES: tuple[Entry, ...] = (
    (_home, "home: a turn begins"),
    (_barline_home, "home on a barline, where turns are too short to draw"),
    (_tacet, "tacet"),
    (_meeting, "all who sound are home"),
    (_landing, "landing: all who should be home at a section's end are"),
    (_running_on, "runs on"),
)


def key_height(faces: Typeface, room: float, *, also: Collection[str]) -> float:
    """Return the height that the key's rows take in ``room`` points, with the marks in ``also``."""
    return _ROW * len(_rows(faces, room, also)) + 2


def draw_key(faces: Typeface, box: Box, *, also: Collection[str]) -> list[Shape]:
    """Draw the key into the upper part of ``box``."""
    shapes: list[Shape] = []
    for number, row in enumerate(_rows(faces, box.width, also)):
        y = box.top + _ROW * (number + 0.5) + 2
        for x, (draw, text) in row:
            shapes += draw(box.left + x, y)
            shapes.append(faces.set(text, (box.left + x + 20, y + 2.6), _SIZE, colour=GREY))
    return shapes


def _rows(faces: Typeface, room: float, also: Collection[str]) -> list[list[tuple[float, Entry]]]:
    rows: list[list[tuple[float, Entry]]] = [[]]
    x = 0.0
    for entry in (*_ENTRIES, *(entry for name, entry in _ALSO.items() if name in also)):
        width = 20 + faces.width(entry[1], _SIZE) + 16
        if x + width > room + 16:
            rows.append([])
            x = 0.0
        rows[-1].append((x, entry))
        x += width
    return rows


def list_height(heads: Heads) -> float:
    """Return the height of the list of numbered sections; 0 without any."""
    count = len(heads.in_key)
    return -(-count // _COLUMNS) * _line_height(count) + 4 if count else 0.0


def draw_list(faces: Typeface, box: Box, sections: Sequence[PlacedSection], heads: Heads) -> list[Shape]:
    """Draw the numbered sections at the lower edge of ``box``, column by column."""
    numbers = heads.in_key
    if not numbers:
        return []
    high = _line_height(len(numbers))
    size, rows = high * 0.82, -(-len(numbers) // _COLUMNS)
    top, wide = box.bottom - rows * high, box.width / _COLUMNS
    shapes: list[Shape] = []
    for place, index in enumerate(numbers):
        column, row = divmod(place, rows)
        placed = sections[index]
        number, tail = f"{index + 1}  ", f" · {tally(placed)}"
        room = wide - 8 - faces.width(number, size) - faces.width(tail, size)
        left, baseline = box.left + wide * column, top + high * (row + 0.8)
        # Set apart, lest a name that reads leftwards carries the figures with it.
        for words in (number, faces.shorten(titled(placed), size, room), tail):
            text = faces.set(words, (left, baseline), size)
            shapes.append(text)
            left += text.width
    shapes.append(line((box.left, top - 2), (box.right, top - 2), Paint(stroke=HAIR, thickness=0.5)))
    return shapes


def _line_height(count: int) -> float:
    return 9.0 if count <= 40 else max(5.6, 9.0 - (count - 40) * 0.03)
