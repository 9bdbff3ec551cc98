"""One lane a layer: where it sounds, where it is home, how many turns it plays; tacet stays empty.

Homes are drawn one by one as long as they stand apart on paper; where turns are too short
for that, those of them that fall on a barline.  This file knows nothing about meetings.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from bridge.cycles.layer import Kind, Layer
from bridge.cycles.meetings import Meetings, meetings
from bridge.errors import InternalError
from bridge.exact import Bars, Length, Place, Ratio
from bridge.out.form.sheet import Sheet
from bridge.out.palette import GREY, HAIR, Ink, hatch, ink
from bridge.out.scene import BLACK, WHITE, Box, Paint, Path, Rectangle, Segment, Shape, line, polyline
from bridge.plan.model import LayerPlan
from bridge.song import Part, PlacedSection, counted_turns

__all__ = ["APART", "FREE_DASH", "Homes", "cycle_words", "draw_lanes", "draw_turn_counts", "homes_shown"]

APART = 1.8
"""Points: marks closer than this run into one another in print."""
_FLAG = 3.2
"""Points: the least width of a pickup's flag."""
_SHARE = 0.22
"""How much of the room between marks they take at most, lest colour and hatching drown in them."""
_SMALL = 7.5
_LEAST_LABEL = 11.0
_LEAST_COUNTED = 15.0
"""Points: boxes lower than this have no room for a count."""
_MOST_STEPS = 16
"""Longer patterns are told by their cycle alone."""
FREE_DASH = (4.0, 2.5)
"""The outline of a layer that plays freely: it has no turns to be counted."""
_TACET = Paint(stroke=HAIR, thickness=0.5, dash=(1, 3))


@dataclass(frozen=True, slots=True, kw_only=True)
class Homes:
    """The homes of a layer in a section that are drawn: all of them, or those on a barline."""

    first: Place
    every: Length
    end: Place
    all_shown: bool

    def places(self) -> Iterator[Place]:
        """Walk through them."""
        place = self.first
        while place < self.end:
            yield place
            place += self.every


def homes_shown(part: Part, placed: PlacedSection, points_per_whole_note: float) -> Homes | None:
    """Choose which homes of ``part`` to draw; None where those on a barline stand too close, or none is."""
    row = part.home_row
    if float(row.step.whole_notes) * points_per_whole_note >= APART:
        return Homes(first=row.first, every=row.step, end=part.end, all_shown=True)
    found = _on_barlines(part, placed)
    if found is None or float(found.every.whole_notes) * points_per_whole_note < APART:
        return None
    first = placed.start + found.first
    return Homes(first=first, every=found.every, end=part.end, all_shown=False)


def _on_barlines(part: Part, placed: PlacedSection) -> Meetings | None:
    """Find the homes on a barline as meetings with the list of meters; they are exact for a list of one."""
    meters = placed.section.meters
    row = part.home_row
    if row.count == 0:
        return None
    bar = Layer(name="bar", cycle=meters.length)
    return meetings([bar, Layer(name="home", cycle=row.step, start=row.first - placed.start)])


def draw_lanes(sheet: Sheet) -> list[Shape]:
    """Draw every layer's lane, in the order of the plan."""
    shapes: list[Shape] = []
    for number, (name, band) in enumerate(zip(sheet.song.plan.layers, sheet.bands.lanes, strict=True)):
        shapes += _label(sheet, name, band)
        middle = band.top + band.height / 2
        shapes.append(line((band.left, middle), (band.right, middle), _TACET))
        for placed in sheet.song.sections:
            for part in placed.parts:
                if part.layer.name == name:
                    shapes += _block(sheet, placed, part, band, ink(number))
                    shapes += _pickup(sheet, part, band)
            if placed.section.free is not None and name in placed.section.free.layers:
                shapes += _freely(sheet, placed, band, ink(number))
    return shapes


def _freely(sheet: Sheet, placed: PlacedSection, band: Box, its: Ink) -> list[Shape]:
    """Draw a layer that plays without turns: its tint, and an outline that is not closed."""
    box = _box(sheet, placed, band)
    outline = Rectangle(box=box, paint=Paint(stroke=BLACK, thickness=0.7, dash=FREE_DASH))
    return [Rectangle(box=box, paint=Paint(fill=its.tint)), *_label_in(sheet, box, ["free"]), outline]


def _pickup(sheet: Sheet, part: Part, band: Box) -> list[Shape]:
    """Draw a flag before the section for the pickup: to scale where that can be seen."""
    if not part.pickup:
        return []
    right = sheet.x(part.start)
    left = min(sheet.x(part.start - part.pickup), right - _FLAG)
    middle, high = band.top + band.height / 2, min(band.height * 0.36, 5.0)
    flag = [(right, middle - high), (left, middle), (right, middle + high)]
    return [polyline(flag, Paint(fill=BLACK, stroke=WHITE, thickness=0.5), closed=True)]


def cycle_words(layer: LayerPlan) -> str:
    """Return a layer's cycle as it was thought of (4 bars, 3/16, 3+3+2/8, x..x..x.), and its rate."""
    words = str(layer.cycle)
    if layer.kind is Kind.GROUPS:
        groups, unit = "+".join(map(str, layer.groups)), _unit(layer)
        words = f"{groups}/{unit.denominator}" if unit.numerator == 1 else f"{groups} of {unit}"
    elif layer.kind is Kind.PULSES:
        words = f"{layer.pulses} in {words}"
    elif layer.pattern is not None and len(layer.pattern.steps) <= _MOST_STEPS:
        words = f"{layer.pattern} in {words}"
    return words if layer.rate == Ratio(1) else f"{words} at {layer.rate}"


def _unit(layer: LayerPlan) -> Fraction:
    """Return the unit of a layer of groups, whose cycle is never in bars."""
    if isinstance(layer.cycle, Bars):
        raise InternalError(f"{layer.name!r} has groups, and a cycle in bars")
    return layer.cycle.whole_notes / sum(layer.groups)


def draw_turn_counts(sheet: Sheet) -> list[Shape]:
    """Set how many turns each layer plays in each section, over all that was drawn before."""
    lanes = dict(zip(sheet.song.plan.layers, sheet.bands.lanes, strict=True))
    shapes: list[Shape] = []
    for placed in sheet.song.sections:
        for part in placed.parts:
            shapes += _turns(sheet, part, lanes[part.layer.name])
    return shapes


def _box(sheet: Sheet, part: Part | PlacedSection, band: Box) -> Box:
    start, end = sheet.x(part.start), sheet.x(part.end)
    high = band.height * 0.72
    return Box(start, band.top + (band.height - high) / 2, end - start, high)


def _label(sheet: Sheet, name: str, band: Box) -> list[Shape]:
    layer = sheet.song.plan.layers[name]
    faces, room = sheet.faces, band.left - 34
    detail = " · ".join(filter(None, (layer.player, cycle_words(layer))))
    middle = band.top + band.height / 2
    if band.height >= 2 * _LEAST_LABEL:
        title = faces.shorten(name, 9, room, bold=True)
        below = faces.shorten(detail, _SMALL, room)
        return [
            faces.set(title, (band.left - 4, middle - 1), 9, share=1, bold=True),
            faces.set(below, (band.left - 4, middle + 8), _SMALL, share=1, colour=GREY),
        ]
    size = min(9.0, band.height * 0.95)
    title = faces.shorten(name, size, room, bold=True)
    return [faces.set(title, (band.left - 4, middle + size * 0.3), size, share=1, bold=True)]


def _block(sheet: Sheet, placed: PlacedSection, part: Part, band: Box, its: Ink) -> list[Shape]:
    box = _box(sheet, part, band)
    shapes: list[Shape] = [Rectangle(box=box, paint=Paint(fill=its.tint))]
    hatching = hatch(box, its)
    if hatching:
        shapes.append(hatching)
    for stretch in part.stretches:
        shapes += _home_marks(sheet, placed, stretch, box)
    shapes.append(Rectangle(box=box, paint=Paint(stroke=BLACK, thickness=0.7)))
    return shapes


def _home_marks(sheet: Sheet, placed: PlacedSection, part: Part, box: Box) -> list[Shape]:
    shown = homes_shown(part, placed, sheet.points_per(Length(1), placed))
    if shown is None:
        return []
    # Full height where every home is drawn; on barlines only, short marks from the upper edge.
    reach = box.height if shown.all_shown else box.height * 0.42
    segments: list[Segment] = []
    for place in shown.places():
        x = sheet.x(place)
        segments += [("M", (x, box.top)), ("L", (x, box.top + reach))]
    if not segments:
        return []
    apart = sheet.points_per(shown.every, placed)
    thickness = min(0.9 if shown.all_shown else 1.3, apart * _SHARE)
    return [Path(segments=tuple(segments), paint=Paint(stroke=BLACK, thickness=thickness))]


def _turns(sheet: Sheet, part: Part, band: Box) -> list[Shape]:
    """Set how many turns are played on a white ground in the lower half, where there is room."""
    shapes: list[Shape] = []
    for stretch in part.stretches:
        words = counted_turns(stretch.turns)
        ways = [words, words.rpartition(" ")[0]]
        if stretch.layer != part.layer:
            ways = [f"{words} of {stretch.layer.cycle}", f"{ways[1]}×{stretch.layer.cycle}"]
        shapes += _label_in(sheet, _box(sheet, stretch, band), ways)
    return shapes


def _label_in(sheet: Sheet, box: Box, ways: list[str]) -> list[Shape]:
    """Set the first of the words that fit."""
    for words in ways if box.height >= _LEAST_COUNTED else ():
        if sheet.faces.width(words, _SMALL) + 8 <= box.width:
            label = sheet.faces.set(words, (box.left + 4, box.bottom - 3.2), _SMALL)
            return [Rectangle(box=label.box.inset(-1.5, 0.4), paint=Paint(fill=WHITE)), label]
    return []
