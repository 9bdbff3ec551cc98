"""The picture of the form put together from its bands.

A layout of our own: names on top, builds joined to their payoffs, the energy line, one
lane a layer, the meetings under them, then tempo, bars and minutes, and a key.  This
file knows nothing about file formats.
"""

from __future__ import annotations

from bridge.exact import show_seconds
from bridge.out.form.curve import answer_rows, draw_answers, draw_energy
from bridge.out.form.heads import Heads, draw_heads, plan_heads
from bridge.out.form.key import FREE, PICKUP, draw_key, draw_list, key_height, list_height
from bridge.out.form.lanes import draw_lanes, draw_turn_counts
from bridge.out.form.meets import draw_meetings
from bridge.out.form.rulers import draw_borders, draw_end, draw_ground, draw_rulers
from bridge.out.form.sheet import HEIGHT, MARGIN, WIDTH, Bands, Sheet
from bridge.out.palette import GREY
from bridge.out.scene import Scene, Shape, Text
from bridge.out.typeface import Typeface
from bridge.song import PlacedSection, Song, left_open

__all__ = ["form_scene", "sheet_of"]


def form_scene(song: Song, faces: Typeface) -> Scene:
    """Draw ``song`` on one A4 page, landscape."""
    sheet, heads = sheet_of(song, faces)
    shapes: list[Shape] = [
        *draw_ground(sheet),
        *draw_energy(sheet),
        *draw_borders(sheet),
        *draw_answers(sheet),
        *draw_lanes(sheet),
        *draw_heads(sheet, heads),
        *draw_rulers(sheet),
        *draw_end(sheet),
        *draw_meetings(sheet),
        *draw_turn_counts(sheet),
        *_title(sheet),
        *draw_key(faces, sheet.bands.key, also=_also(song)),
        *draw_list(faces, sheet.bands.key, song.sections, heads),
    ]
    return Scene(
        width=WIDTH,
        height=HEIGHT,
        title=song.plan.title,
        description=_in_words(song),
        shapes=tuple(shape for shape in shapes if not isinstance(shape, Text) or shape.text),
    )


def _also(song: Song) -> frozenset[str]:
    """Name the marks that not every picture needs."""
    sections = song.plan.sections
    there = {
        PICKUP: any(section.pickup for section in sections),
        FREE: any(section.free is not None and section.free.layers for section in sections),
    }
    return frozenset(name for name, is_there in there.items() if is_there)


def sheet_of(song: Song, faces: Typeface) -> tuple[Sheet, Heads]:
    """Make the sheet: names are fitted first, since they decide how high the bands can be."""
    bare = Bands.stacked(callouts=0, heads=0, answers=0, energy=False, lanes=len(song.plan.layers), key=0)
    first = Sheet(song=song, faces=faces, bands=bare)
    heads = plan_heads(song.sections, [first.span(placed) for placed in song.sections], faces)
    bands = Bands.stacked(
        callouts=heads.rows,
        heads=heads.height,
        answers=len(answer_rows(song)),
        energy=any(placed.section.energy for placed in song.sections),
        lanes=len(song.plan.layers),
        key=key_height(faces, WIDTH - 2 * MARGIN, also=_also(song)) + list_height(heads),
    )
    return Sheet(song=song, faces=faces, bands=bands), heads


def _title(sheet: Sheet) -> list[Shape]:
    song, faces = sheet.song, sheet.faces
    facts = f"{song.total_bars} bars · {show_seconds(song.total_seconds).split('.')[0]}"
    room = WIDTH - 2 * MARGIN - faces.width(facts, 12) - 20
    title = faces.shorten(song.plan.title, 20, room, bold=True)
    return [
        faces.set(title, (MARGIN, MARGIN + 18), 20, bold=True),
        faces.set(facts, (WIDTH - MARGIN, MARGIN + 18), 12, share=1, colour=GREY),
    ]


def _without_turns(placed: PlacedSection) -> str:
    if placed.section.free is None:
        return "general pause"
    return ", ".join((left_open(placed.section), *placed.section.free.layers))


def _in_words(song: Song) -> str:
    lines = []
    for placed in song.sections:
        who = ", ".join(part.layer.name for part in placed.parts) or _without_turns(placed)
        start = show_seconds(song.seconds(placed.start))
        lines.append(f"{start} {placed.name}: bars {placed.first_bar} to {placed.last_bar}, {who}.")
    return " ".join([*lines, f"{show_seconds(song.total_seconds)} End."])
