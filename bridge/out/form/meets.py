"""Where all meet: the full meetings on the way, and the landings that sections were built for.

This file knows nothing about single layers' homes.
"""

from __future__ import annotations

from bridge.exact import Place
from bridge.out.form.lanes import APART
from bridge.out.form.sheet import Sheet
from bridge.out.palette import GREY, HAIR
from bridge.out.scene import BLACK, WHITE, Box, Paint, Path, Rectangle, Segment, Shape, polyline
from bridge.song import PlacedSection, gathering_in, landings

__all__ = ["draw_meetings"]

_DIAMOND = 3.2
_LANDING = 5.0


def draw_meetings(sheet: Sheet) -> list[Shape]:
    """Draw a mark at every full meeting and every landing, with lines up through the lanes."""
    band = sheet.bands.meetings
    landed = {landing.place for landing in landings(sheet.song)}
    shapes: list[Shape] = []
    for placed in sheet.song.sections:
        shapes += _on_the_way(sheet, placed, landed)
    middle = band.top + band.height / 2
    for place in sorted(landed, key=lambda place: place.whole_notes):
        shapes.append(_diamond(sheet.x(place), middle, _LANDING, Paint(fill=BLACK)))
    shapes.append(sheet.faces.set("all meet", (band.left - 4, middle + 3), 9, share=1, bold=True))
    return shapes


def _on_the_way(sheet: Sheet, placed: PlacedSection, landed: set[Place]) -> list[Shape]:
    found = gathering_in(placed)
    if found is None:
        return []
    band = sheet.bands.meetings
    middle = band.top + band.height / 2
    apart = sheet.points_per(found.every, placed)
    first = next(found.between(placed.start, placed.counts_until), None)
    if apart < APART and first is not None:
        start, end = sheet.x(first), sheet.x(placed.end)
        box = Box(start, middle - 1.5, end - start, 3)
        return [Rectangle(box=box, paint=Paint(fill=HAIR, stroke=BLACK, thickness=0.4))]
    size = min(_DIAMOND, apart / 2 - 0.4)
    shapes: list[Shape] = []
    upwards: list[Segment] = []
    for place in found.between(placed.start, placed.counts_until):
        x = sheet.x(place)
        if place not in landed:
            shapes.append(_diamond(x, middle, size, Paint(fill=WHITE, stroke=BLACK, thickness=0.8)))
        upwards += [("M", (x, middle - size)), ("L", (x, _top(sheet)))]
    if apart < 3 * APART:
        return shapes
    return [Path(segments=tuple(upwards), paint=Paint(stroke=GREY, thickness=0.5, dash=(1.2, 1.8))), *shapes]


def _top(sheet: Sheet) -> float:
    lanes = sheet.bands.lanes
    return lanes[0].top + lanes[0].height * 0.14 if lanes else sheet.bands.meetings.top


def _diamond(x: float, y: float, size: float, paint: Paint) -> Path:
    return polyline([(x, y - size), (x + size, y), (x, y + size), (x - size, y)], paint, closed=True)
