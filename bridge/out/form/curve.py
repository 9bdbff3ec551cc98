"""The energy line, and the payoffs joined to the builds that they answer.

This file knows nothing about layers.
"""

from __future__ import annotations

from bridge.exact import Ratio
from bridge.out.form.sheet import Sheet, span_seconds
from bridge.out.palette import GREY, HAIR, mixed
from bridge.out.scene import BLACK, WHITE, Paint, Point, Rectangle, Shape, line, polyline
from bridge.plan.model import PayOff
from bridge.song import PlacedSection, Song

__all__ = ["answer_rows", "draw_answers", "draw_energy"]

_FILL = mixed("#56b4e9", 0.30)
_MOST_ROWS = 6

Answer = tuple[PlacedSection, PayOff]


def draw_energy(sheet: Sheet) -> list[Shape]:
    """Draw the energy of every section as a line over a filled ground; nothing where none is given."""
    band, faces = sheet.bands.energy, sheet.faces
    shapes: list[Shape] = []
    if not any(placed.section.energy for placed in sheet.song.sections):
        return shapes
    for level in (0, 50, 100):
        y = band.bottom - band.height * level / 100
        rule = Paint(stroke=HAIR, thickness=0.4, dash=(1, 2) if level == 50 else ())
        shapes.append(line((band.left, y), (band.right, y), rule))
        shapes.append(faces.set(str(level), (band.left - 4, y + 2.6), 7.5, share=1, colour=GREY))
    middle = band.top + band.height / 2 + 3
    shapes.append(faces.set("energy", (band.left - 22, middle), 9, share=1, bold=True))
    before: Point | None = None
    for placed in sheet.song.sections:
        points = _points(sheet, placed)
        if not points:
            before = None
            continue
        ground = [(points[0][0], band.bottom), *points, (points[-1][0], band.bottom)]
        shapes.append(polyline(ground, Paint(fill=_FILL), closed=True))
        joined = [before, *points] if before is not None else points
        shapes.append(polyline(joined, Paint(stroke=BLACK, thickness=1.4)))
        before = points[-1]
    return shapes


def _points(sheet: Sheet, placed: PlacedSection) -> list[Point]:
    """Spread a section's energies evenly from its start to its end; one alone holds throughout."""
    energy, band = placed.section.energy, sheet.bands.energy
    levels = energy * 2 if len(energy) == 1 else energy
    return [
        (
            sheet.x(placed.start + placed.length * Ratio(number) / (len(levels) - 1)),
            band.bottom - band.height * float(level) / 100,
        )
        for number, level in enumerate(levels)
    ]


def answer_rows(song: Song) -> tuple[tuple[Answer, ...], ...]:
    """Deal the sections that pay something off out over rows in which none overlaps another."""
    rows: list[list[Answer]] = []
    ends: list[int] = []
    for index, placed in enumerate(song.sections):
        answer = placed.section.pays_off
        if answer is None:
            continue
        first = min(answer.sections)
        row = next((number for number, end in enumerate(ends) if end < first), len(rows))
        if row == len(rows):
            rows.append([])
            ends.append(index)
        rows[row].append((placed, answer))
        ends[row] = index
    return tuple(tuple(row) for row in rows[:_MOST_ROWS])


def draw_answers(sheet: Sheet) -> list[Shape]:
    """Draw a bar under each build and each payoff, joined by an arrow, with how many times as long."""
    rows = answer_rows(sheet.song)
    if not rows:
        return []
    band, shapes = sheet.bands.answers, list[Shape]()
    high = band.height / len(rows)
    for number, row in enumerate(rows):
        y = band.top + high * (number + 0.5)
        for payoff, answer in row:
            shapes += _answer(sheet, payoff, answer, y)
    middle = band.top + band.height / 2 + 3
    shapes.append(sheet.faces.set("build to payoff", (band.left - 4, middle), 9, share=1, bold=True))
    return shapes


def _answer(sheet: Sheet, payoff: PlacedSection, answer: PayOff, y: float) -> list[Shape]:
    builds = [sheet.song.sections[index] for index in answer.sections]
    start, end = sheet.span(payoff)
    shapes: list[Shape] = []
    for build in builds:
        left, right = sheet.span(build)
        box = (left + 1.5, right - 1.5)
        shapes.append(line((box[0], y), (box[1], y), Paint(stroke=BLACK, thickness=1.0)))
        shapes += [line((x, y - 3), (x, y + 3), Paint(stroke=BLACK, thickness=1.0)) for x in box]
    last = max(sheet.x(build.end) for build in builds)
    shapes.append(line((last - 1.5, y), (start - 3, y), Paint(stroke=BLACK, thickness=0.8, dash=(2.0, 1.6))))
    shapes.append(
        polyline([(start + 1, y), (start - 4.5, y - 3), (start - 4.5, y + 3)], Paint(fill=BLACK), closed=True)
    )
    shapes.append(line((start + 1.5, y), (end - 1.5, y), Paint(stroke=BLACK, thickness=3.2)))
    times = span_seconds(payoff) / sum(map(span_seconds, builds))
    return shapes + _label(sheet, f"{times:.2f} times as long", f"× {times:.2f}", (start, end), y)


def _label(sheet: Sheet, text: str, short: str, span: tuple[float, float], y: float) -> list[Shape]:
    """Set the ratio on the payoff's bar, on a white ground; nothing where even the short form is too wide."""
    for words in (text, short):
        width = sheet.faces.width(words, 8)
        if width + 10 <= span[1] - span[0]:
            label = sheet.faces.set(words, (sum(span) / 2, y + 2.8), 8, share=0.5)
            return [Rectangle(box=label.box.inset(-2, 0.5), paint=Paint(fill=WHITE)), label]
    return []
