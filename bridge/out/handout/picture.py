"""The handout put together: systems of bars, a lane a layer, the meetings, the counting.

A layout of our own.  This file knows nothing about file formats.
"""

from __future__ import annotations

from bridge.cycles import divisor
from bridge.exact import Length, seconds_of, show_seconds
from bridge.out.handout.stretch import Stretch
from bridge.out.handout.syllables import counted
from bridge.out.handout.systems import HEIGHT, MARGIN, WIDTH, System, laid_out
from bridge.out.handout.turns import COUNTED_DOWN, draw_turns
from bridge.out.palette import GREY, HAIR
from bridge.out.scene import BLACK, Box, Paint, Path, Rectangle, Scene, Segment, Shape, Text, line, polyline
from bridge.out.typeface import Typeface

__all__ = ["handout_scene"]

_SMALL = 7.5
_SYLLABLE = 8.0


def handout_scene(stretch: Stretch, faces: Typeface, *, count: bool = False) -> Scene:
    """Draw ``stretch`` on one A4 page, landscape; with ``count``, the counting syllables under it.

    A stretch too long to be seen is shown from as late as it can be: its approach to the end.
    """
    layout = laid_out(stretch, counts=1 if count else 0)
    shapes: list[Shape] = [*_title(stretch, faces, layout.left_out)]
    for system in layout.systems:
        shapes += _system(system, layout.stretch, faces)
        if count:
            shapes += _counting(system, layout.stretch, faces)
    shapes += _key(faces)
    return Scene(
        width=WIDTH,
        height=HEIGHT,
        title=stretch.title,
        description=_in_words(stretch),
        shapes=tuple(shape for shape in shapes if not isinstance(shape, Text) or shape.text),
    )


def _title(stretch: Stretch, faces: Typeface, left_out: int) -> list[Shape]:
    facts = _facts(stretch)
    if left_out:
        facts += f" · its last {stretch.bars - left_out} bars"
    title = faces.shorten(stretch.title, 19, WIDTH - 2 * MARGIN, bold=True)
    below = faces.shorten(facts, 10, WIDTH - 2 * MARGIN)
    return [
        faces.set(title, (MARGIN, MARGIN + 16), 19, bold=True),
        faces.set(below, (MARGIN, MARGIN + 32), 10, colour=GREY),
    ]


def _facts(stretch: Stretch) -> str:
    words = [f"{stretch.bars} bars of {str(stretch.meters).replace(',', ' ')}"]
    if stretch.tempo is not None:
        words.append(show_seconds(seconds_of(stretch.end - stretch.start, stretch.tempo)))
    if stretch.together is not None:
        bars = stretch.meters.bars_in(stretch.together.every)
        every = f"{bars} bars" if bars is not None else f"{stretch.together.every} whole notes"
        words.append(f"all meet every {every}")
    elif len(stretch.parts) > 1:
        words.append("all never meet")
    if stretch.pickup:
        words.append(f"pickup of {stretch.pickup} before")
    return " · ".join(words)


def _system(system: System, stretch: Stretch, faces: Typeface) -> list[Shape]:
    shapes: list[Shape] = _barlines(system, stretch, faces)
    for number, (part, band) in enumerate(zip(stretch.parts, system.lanes, strict=True)):
        shapes += draw_turns(system, number, part, stretch.together, faces)
        size = min(9.0, band.height * 0.8)
        name = faces.shorten(part.layer.name, size, system.head.left - MARGIN - 6, bold=True)
        at = (system.head.left - 6, band.top + band.height / 2 + size * 0.33)
        shapes.append(faces.set(name, at, size, share=1, bold=True))
    return shapes + _meetings(system, stretch)


def _barlines(system: System, stretch: Stretch, faces: Typeface) -> list[Shape]:
    head, bottom = system.head, system.lanes[-1].bottom
    shapes: list[Shape] = []
    beats: list[Segment] = []
    free = head.left - 10
    for bar in range(system.first_bar, system.first_bar + system.bars + 1):
        start = stretch.barline(bar)
        x = system.x(start)
        shapes.append(line((x, head.bottom - 4), (x, bottom), Paint(stroke=GREY, thickness=0.7)))
        label = faces.set(str(bar), (x, head.bottom - 6.5), _SMALL, share=0.5, bold=True)
        if label.box.left >= free:
            shapes.append(label)
            free = label.box.right + 4
        if bar == system.first_bar + system.bars:
            continue
        at, meter = start, stretch.meter(bar)
        for beat in meter.counted:
            beats += [("M", (system.x(at), head.bottom - 3)), ("L", (system.x(at), head.bottom))]
            at += beat
    if len(beats) < 2 * (head.width / 2.4):
        shapes.append(Path(segments=tuple(beats), paint=Paint(stroke=HAIR, thickness=0.7)))
    return shapes


def _meetings(system: System, stretch: Stretch) -> list[Shape]:
    top, bottom = system.head.bottom - 1, system.lanes[-1].bottom
    shapes: list[Shape] = []
    for place in stretch.meetings():
        if not system.start <= place <= system.end:
            continue
        x = system.x(place)
        shapes.append(line((x, top), (x, bottom + 3), Paint(stroke=BLACK, thickness=2.2)))
        y = bottom + 3
        diamond = [(x, y - 4.5), (x + 4.5, y), (x, y + 4.5), (x - 4.5, y)]
        shapes.append(polyline(diamond, Paint(fill=BLACK), closed=True))
    return shapes


def _counting(system: System, stretch: Stretch, faces: Typeface) -> list[Shape]:
    """Set the syllables of every bar; the finest that stand apart on paper, else the beats alone."""
    band = system.counts[0]
    shapes: list[Shape] = []
    grain = _grain(stretch)
    free = float("-inf")
    for bar in range(system.first_bar, system.first_bar + system.bars):
        meter, start = stretch.meter(bar), stretch.barline(bar)
        syllables = counted(meter, grain)
        room = float(meter.length.whole_notes) * system.points_per_whole_note / max(len(syllables), 1)
        if room < _SYLLABLE * 0.8:
            syllables = counted(meter, meter.length)
        for at, word in syllables:
            text = faces.set(
                word, (system.x(start + at) + 1, band.bottom - 1), _SYLLABLE, bold=word.isdigit()
            )
            if text.box.left > free:
                shapes.append(text)
                free = text.box.right + 0.5
    label = faces.set("count", (band.left - 6, band.bottom - 1), _SYLLABLE, share=1, colour=GREY)
    return [*shapes, label]


def _grain(stretch: Stretch) -> Length:
    """Return the note that divides every turn and every accent."""
    lengths = [piece.layer.turn for part in stretch.parts for piece in part.stretches]
    lengths += [accent / part.layer.rate for part in stretch.parts for accent in part.layer.accents if accent]
    lengths += [part.layer.start for part in stretch.parts if part.layer.start]
    return divisor([*lengths, stretch.meters.row[0].beat])


def _key(faces: Typeface) -> list[Shape]:
    y, x = HEIGHT - MARGIN - 6, MARGIN
    wedge = [(x, y - 4), (x + 5, y - 4), (x, y + 4)]
    shapes: list[Shape] = [polyline(wedge, Paint(fill=BLACK), closed=True)]
    words = faces.set("home: a turn begins, with its number", (x + 10, y + 2.6), _SMALL, colour=GREY)
    x = words.box.right + 18
    box = Box(x, y - 5, 22, 10)
    shapes += [words, Rectangle(box=box, paint=Paint(fill="#c9c9c9", stroke=BLACK, thickness=0.5))]
    shapes.append(faces.set("−2", (x + 11, y + 2.6), _SMALL, share=0.5, bold=True))
    text = f"turns left until all meet, for the last {COUNTED_DOWN} at most"
    words = faces.set(text, (x + 28, y + 2.6), _SMALL, colour=GREY)
    x = words.box.right + 18
    diamond = [(x + 5, y - 5), (x + 10, y), (x + 5, y + 5), (x, y)]
    shapes += [words, polyline(diamond, Paint(fill=BLACK), closed=True)]
    shapes.append(faces.set("all meet", (x + 15, y + 2.6), _SMALL, colour=GREY))
    x += 15 + faces.width("all meet", _SMALL) + 18
    shapes.append(line((x, y + 4), (x, y - 1), Paint(stroke=BLACK, thickness=1.6)))
    shapes.append(faces.set("accent within a turn", (x + 6, y + 2.6), _SMALL, colour=GREY))
    return shapes


def _in_words(stretch: Stretch) -> str:
    parts = [f"{part.layer.name}: a turn of {part.layer.turn} whole notes" for part in stretch.parts]
    return f"{_facts(stretch)}. {'; '.join(parts)}."
