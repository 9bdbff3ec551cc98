"""The sections' names over the plot: flat where they fit, turned where they do not, else called out.

A section too narrow for a turned name is called out above the heads, with a line down to
it; where the callouts would run into one another they become numbers, explained in the
key.  This file knows nothing about what the sections hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from bridge.exact import Bars
from bridge.out.form.sheet import Sheet, lasting
from bridge.out.palette import GREY, HAIR
from bridge.out.scene import BLACK, WHITE, Box, Paint, Rectangle, Shape, line
from bridge.out.typeface import Typeface
from bridge.song import PlacedSection

__all__ = ["FLAT", "TURNED", "Heads", "draw_heads", "plan_heads", "tally", "titled"]

FLAT, TURNED = 37.0, 84.0
"""How high the band is with flat heads only, and with turned ones among them."""
_NAME, _SMALL = 9.5, 8.0
_NAMES = (9.5, 9.0, 8.5, 8.0)
"""A flat name is set in the largest of these in which it fits whole, else shortened."""
_PAD = 3.0
_LEAST_FLAT = 36.0
_LEAST_TURNED = 12.5
_TWO_TURNED = 24.0


class Fit(Enum):
    """How a section's name is set."""

    FLAT = "flat"
    TURNED = "turned"
    CALLED = "called"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heads:
    """How every section's name is set, and what is called out above them."""

    fits: tuple[Fit, ...]
    height: float
    """The height of the band of heads."""
    rows: int
    """Rows of callouts: 0, 1 or 2."""
    numbered: bool
    """Whether the callouts are numbers, to be explained in the key."""

    @property
    def in_key(self) -> tuple[int, ...]:
        """The indices of the sections that the key explains."""
        return tuple(i for i, fit in enumerate(self.fits) if fit is Fit.CALLED) if self.numbered else ()


def titled(placed: PlacedSection) -> str:
    """Return a section's letter and name."""
    letter = placed.section.letter
    return f"{letter} · {placed.name}" if letter else placed.name


def tally(placed: PlacedSection) -> str:
    """Return a section's bars and time; of one that goes on until it is released, that it does."""
    bars = "free" if placed.section.free is not None else str(Bars(placed.bars))
    return f"{bars}{' vamp' if placed.section.vamp is not None else ''} · {lasting(placed)}"


def plan_heads(
    sections: Sequence[PlacedSection], spans: Sequence[tuple[float, float]], faces: Typeface
) -> Heads:
    """Choose how each name is set in its span of x."""
    widths = [end - start for start, end in spans]
    fits = tuple(_fit(placed, wide, faces) for placed, wide in zip(sections, widths, strict=True))
    called = [index for index, fit in enumerate(fits) if fit is Fit.CALLED]
    high = max(FLAT, *(_turned_height(s, f, faces) for s, f in zip(sections, fits, strict=True)))
    if not called:
        return Heads(fits=fits, height=high, rows=0, numbered=False)
    widths = [sum(faces.width(word, _SMALL) for word in _callout(sections[index])) for index in called]
    middles = [sum(spans[index]) / 2 for index in called]
    limits = spans[0][0], spans[-1][1]
    for rows in (1, 2):
        if _stand_apart(middles, widths, limits, rows):
            return Heads(fits=fits, height=high, rows=rows, numbered=False)
    return Heads(fits=fits, height=high, rows=1, numbered=True)


def _turned_height(placed: PlacedSection, fit: Fit, faces: Typeface) -> float:
    """Return the height that a section's name wants, at most TURNED; 0 where it is not turned."""
    if fit is not Fit.TURNED:
        return 0.0
    widest = max(faces.width(titled(placed), _NAME, bold=True), faces.width(tally(placed), _SMALL))
    return min(TURNED, widest + 8)


def draw_heads(sheet: Sheet, heads: Heads) -> list[Shape]:
    """Draw every section's head, callouts included."""
    shapes: list[Shape] = []
    for placed, fit in zip(sheet.song.sections, heads.fits, strict=True):
        if fit is Fit.FLAT:
            shapes += _flat(sheet, placed)
        elif fit is Fit.TURNED:
            shapes += _turned(sheet, placed)
    return shapes + _callouts(sheet, heads)


def _fit(placed: PlacedSection, width: float, faces: Typeface) -> Fit:
    room = width - 2 * _PAD
    full = max(
        faces.width(titled(placed), _NAME, bold=True),
        *(faces.width(part, _SMALL) for part in tally(placed).split(" · ")),
    )
    if room >= min(full, _LEAST_FLAT) and room >= full * 0.5:
        return Fit.FLAT
    if width >= _LEAST_FLAT + 2 * _PAD + 6:
        return Fit.FLAT
    return Fit.TURNED if width >= _LEAST_TURNED else Fit.CALLED


def _flat(sheet: Sheet, placed: PlacedSection) -> list[Shape]:
    start, end = sheet.span(placed)
    faces, top, room = sheet.faces, sheet.bands.heads.top, end - start - 2 * _PAD
    left, shapes = start + _PAD, list[Shape]()
    letter = placed.section.letter
    if letter and (wide := faces.width(letter, _SMALL, bold=True) + 5) < room - 12:
        box = Box(left, top + 2.5, wide, 10.5)
        shapes.append(Rectangle(box=box, paint=Paint(fill=BLACK)))
        at = (left + wide / 2, top + 10.6)
        shapes.append(faces.set(letter, at, _SMALL, share=0.5, bold=True, colour=WHITE))
        left, room = left + wide + 3, room - wide - 3
    size = next((size for size in _NAMES if faces.width(placed.name, size, bold=True) <= room), _NAMES[-1])
    name = faces.shorten(placed.name, size, room, bold=True)
    shapes.append(faces.set(name, (left, top + 11), size, bold=True))
    bars, time = tally(placed).split(" · ")
    whole, room = f"{bars} · {time}", end - start - 2 * _PAD
    lines = [whole] if faces.width(whole, _SMALL) <= room else [bars, time]
    for row, text in enumerate(lines):
        shapes.append(faces.set(text, (start + _PAD, top + 21.5 + 9.5 * row), _SMALL, colour=GREY))
    return shapes


def _turned(sheet: Sheet, placed: PlacedSection) -> list[Shape]:
    start, end = sheet.span(placed)
    faces, middle = sheet.faces, (start + end) / 2
    bottom = sheet.bands.heads.bottom - 3
    room = sheet.bands.heads.height - 6
    name = faces.shorten(titled(placed), _NAME, room, bold=True)
    if end - start < _TWO_TURNED:
        tail = "  " + tally(placed)
        spare = room - faces.width(name, _NAME, bold=True)
        shapes = [faces.set(name, (middle + 3.4, bottom), _NAME, bold=True, turned=True)]
        if faces.width(tail, _SMALL) <= spare:
            at = (middle + 3.4, bottom - faces.width(name, _NAME, bold=True))
            shapes.append(faces.set(tail, at, _SMALL, turned=True, colour=GREY))
        return list(shapes)
    return [
        faces.set(name, (middle - 2, bottom), _NAME, bold=True, turned=True),
        faces.set(tally(placed), (middle + 8.5, bottom), _SMALL, turned=True, colour=GREY),
    ]


def _callouts(sheet: Sheet, heads: Heads) -> list[Shape]:
    band = sheet.bands.callouts
    shapes: list[Shape] = []
    free = [sheet.left - 100.0] * heads.rows
    called = [p for p, fit in zip(sheet.song.sections, heads.fits, strict=True) if fit is Fit.CALLED]
    for number, placed in enumerate(called):
        row = number % heads.rows
        middle = sum(sheet.span(placed)) / 2
        words = (str(placed.section.index + 1),) if heads.numbered else _callout(placed)
        width = sum(sheet.faces.width(word, _SMALL) for word in words)
        left = _placed(middle, width, (sheet.left, sheet.right))
        if left < free[row] + 4:
            continue
        free[row] = left + width
        baseline, foot = band.top + 9 + 12 * row, (middle, sheet.bands.heads.bottom)
        for word, colour in zip(words, (BLACK, GREY), strict=False):
            text = sheet.faces.set(word, (left, baseline), _SMALL, colour=colour)
            shapes.append(text)
            left += text.width
        shapes.append(line((middle, baseline + 2.2), foot, Paint(stroke=HAIR, thickness=0.6)))
    return shapes


def _callout(placed: PlacedSection) -> tuple[str, ...]:
    # Name and figures are set apart, lest a name that reads leftwards carries the figures with it.
    return titled(placed), f" · {tally(placed)}"


def _placed(middle: float, width: float, limits: tuple[float, float]) -> float:
    return max(limits[0], min(middle - width / 2, limits[1] - width))


def _stand_apart(
    middles: Sequence[float], widths: Sequence[float], limits: tuple[float, float], rows: int
) -> bool:
    """Whether callouts dealt out over ``rows`` in turn keep clear of one another and of the lines down."""
    free = [float("-inf")] * rows
    for number, (middle, width) in enumerate(zip(middles, widths, strict=True)):
        left = _placed(middle, width, limits)
        if left < free[number % rows] + 6 or width > limits[1] - limits[0]:
            return False
        free[number % rows] = left + width
    if rows == 1:
        return True
    # A line down from the upper row must not run through a callout of the lower one.
    lower = [
        (_placed(m, w, limits), w) for n, (m, w) in enumerate(zip(middles, widths, strict=True)) if n % 2
    ]
    upper = [middle for number, middle in enumerate(middles) if number % 2 == 0]
    return not any(left - 2 < middle < left + width + 2 for middle in upper for left, width in lower)
