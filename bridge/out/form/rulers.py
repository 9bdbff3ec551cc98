"""Bars, minutes, tempo and meter along the lower edge; the sections' borders; the End.

This file knows nothing about layers.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from bridge.exact import Tempo, show_number, show_seconds
from bridge.out.form.sheet import Sheet
from bridge.out.palette import GREY, PALE
from bridge.out.scene import BLACK, Box, Paint, Rectangle, Shape, Text, line
from bridge.song import END

__all__ = ["draw_borders", "draw_end", "draw_ground", "draw_rulers", "tempo_words"]

_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200)
_SMALL = 7.5
_END_ROOM = 31.0


def tempo_words(tempo: Tempo) -> str:
    """Return a tempo as musicians write it, two decimals at most."""
    start, end = (_rounded(show_number(bpm), float(bpm)) for bpm in (tempo.start, tempo.end))
    return f"♩ = {start}" if tempo.is_constant else f"♩ = {start} → {end}"


def draw_ground(sheet: Sheet) -> list[Shape]:
    """Tint every second section, so that the eye keeps its place down the page."""
    plot = sheet.plot
    shapes: list[Shape] = []
    for placed in sheet.song.sections[1::2]:
        start, end = sheet.span(placed)
        shapes.append(Rectangle(box=Box(start, plot.top, end - start, plot.height), paint=Paint(fill=PALE)))
    return shapes


def draw_borders(sheet: Sheet) -> list[Shape]:
    """Draw a line where a section begins: solid, or dashed where the one before runs on into it."""
    plot, shapes = sheet.plot, list[Shape]()
    before = None
    crowd = (sheet.right - sheet.left) / len(sheet.song.sections)
    thickness = min(0.7, max(0.2, crowd / 15))
    for placed in sheet.song.sections:
        runs_on = before is not None and before.section.runs_on
        x = sheet.x(placed.start)
        paint = Paint(stroke=GREY, thickness=thickness, dash=(3, 2) if runs_on else ())
        shapes.append(line((x, plot.top), (x, plot.bottom), paint))
        before = placed
    return shapes


def draw_end(sheet: Sheet) -> list[Shape]:
    """Draw the End as a final barline, with the bar and the time at which it falls."""
    plot, x, faces = sheet.plot, sheet.right, sheet.faces
    left = x + 7
    bar = f"bar {sheet.song.total_bars + 1}"
    words = [(END, 9.5, True), (bar, 8.0, False), (_clock(float(sheet.song.total_seconds)), 8.0, False)]
    shapes: list[Shape] = [
        line((x, plot.top), (x, plot.bottom), Paint(stroke=BLACK, thickness=0.8)),
        line((x + 3.2, plot.top), (x + 3.2, plot.bottom), Paint(stroke=BLACK, thickness=2.4)),
    ]
    for row, (text, wished, bold) in enumerate(words):
        size = min(wished, wished * _END_ROOM / faces.width(text, wished, bold=bold))
        shapes.append(faces.set(text, (left, plot.top + 11 + 10 * row), size, bold=bold))
    return shapes


def draw_rulers(sheet: Sheet) -> list[Shape]:
    """Draw the bar at which each section begins and the minutes below, and where tempo or meter change."""
    band, faces = sheet.bands.rulers, sheet.faces
    top, middle = band.top, band.top + 13
    shapes: list[Shape] = []
    bars = [(sheet.x(placed.start), str(placed.first_bar)) for placed in sheet.song.sections]
    bars.append((sheet.right, str(sheet.song.total_bars + 1)))
    shapes += _ticks(sheet, bars, top, 3)
    step = _step(sheet)
    total = float(sheet.song.total_seconds)
    times = [(sheet.x_at(at), _clock(at)) for at in range(0, int(total) + 1, step)]
    shapes.append(line((sheet.left, middle), (sheet.right, middle), Paint(stroke=BLACK, thickness=0.7)))
    shapes += _ticks(sheet, times, middle, 3)
    shapes.append(faces.set("bar", (band.left - 12, top + 9.4), 9, share=1, bold=True))
    shapes.append(faces.set("minutes", (band.left - 12, middle + 10), 9, share=1, bold=True))
    return shapes + _tempi(sheet)


def _ticks(sheet: Sheet, marks: Iterable[tuple[float, str]], top: float, long: float) -> list[Shape]:
    """Draw ticks with their labels; a label that would touch another is left out, the last one never."""
    shapes: list[Shape] = []
    rows = [(x, sheet.faces.set(text, (x, top + long + 6.6), _SMALL, share=0.5)) for x, text in marks]
    last = rows[-1][1].box
    free = sheet.left - 12
    for number, (x, label) in enumerate(rows):
        shapes.append(line((x, top), (x, top + long), Paint(stroke=BLACK, thickness=0.6)))
        is_last = number == len(rows) - 1
        if is_last or (label.box.left >= free and label.box.right + 3 <= last.left):
            shapes.append(label)
            free = label.box.right + 3
    return shapes


def _tempi(sheet: Sheet) -> list[Shape]:
    band, faces = sheet.bands.tempi, sheet.faces
    shapes: list[Shape] = [faces.set("tempo, meter", (band.left - 4, band.top + 9), 9, share=1, bold=True)]
    changes: list[tuple[float, str]] = []
    tempo = meters = None
    for placed in sheet.song.sections:
        section = placed.section
        new_tempo = tempo is None or not section.tempo.is_constant or section.tempo.start != tempo.end
        parts = [tempo_words(section.tempo) if section.free is None else "free"] if new_tempo else []
        if section.meters != meters:
            parts.append(str(section.meters).replace(",", " "))
        tempo, meters = section.tempo, section.meters
        if parts:
            changes.append((sheet.x(placed.start), "  ".join(parts)))
    for number, (x, words) in enumerate(changes):
        room = (changes[number + 1][0] if number + 1 < len(changes) else sheet.right) - x - 4
        label = _fitting(sheet, words, (x + 1, band.top + 9), room)
        if label is not None:
            shapes.append(label)
    return shapes


def _fitting(sheet: Sheet, words: str, at: tuple[float, float], room: float) -> Text | None:
    shown = sheet.faces.shorten(words, _SMALL, room)
    return sheet.faces.set(shown, at, _SMALL) if len(shown) > 3 or shown == words else None


def _step(sheet: Sheet) -> int:
    per_second = (sheet.right - sheet.left) / float(sheet.song.total_seconds)
    return next((step for step in _STEPS if step * per_second >= 36), _STEPS[-1])


def _clock(seconds: float) -> str:
    return show_seconds(Fraction(int(seconds)))


def _rounded(text: str, value: float) -> str:
    return text if len(text) <= 7 and "/" not in text else f"{value:.2f}"
