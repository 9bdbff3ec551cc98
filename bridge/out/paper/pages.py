"""The pages of a player's paper: A4 upright, nothing smaller than 11 points.

Text 13 points, names 18, letters 22, music at 7 points a staff space: to be read from a
stand an arm's length and more away (common practice, no source).  A layout of our own:
what to play on the left, bar numbers large on the right, tacet stretches left open.
This file knows nothing about file formats.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from bridge.exact import show_seconds
from bridge.out.palette import GREY, HAIR
from bridge.out.paper.blocks import Block, Line, blocks_for
from bridge.out.paper.engraving import can_engrave
from bridge.out.paper.notation import Mine
from bridge.out.paper.words import players
from bridge.out.paper.wrap import wrapped
from bridge.out.scene import BLACK, WHITE, Box, Paint, Rectangle, Scene, Shape, Text, line
from bridge.out.typeface import Typeface
from bridge.song import Song

__all__ = ["Paper", "player_paper"]

WIDTH, HEIGHT, MARGIN = 595.28, 841.89, 42.0
_TITLE, _LETTER, _NAME, _BARS, _TEXT, _SMALL = 24.0, 20.0, 18.0, 16.0, 13.0, 11.0
_LEADING = 1.32
_INDENT = 12.0
_BETWEEN = 16.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """One player's pages."""

    player: str
    pages: tuple[Scene, ...]


@dataclass(frozen=True, slots=True)
class _Set:
    """A block set from y = 0 downwards, in rows that a page break may stand between."""

    rows: tuple[tuple[float, tuple[Shape, ...]], ...]

    @property
    def height(self) -> float:
        return sum(high for high, _ in self.rows)


def player_paper(song: Song, player: str, faces: Typeface) -> Paper:
    """Return the paper of ``player``, one of :func:`bridge.out.paper.words.players`."""
    return Paper(player=player, pages=tuple(_pages(song, player, players(song)[player], faces)))


def _pages(song: Song, player: str, layers: Sequence[str], faces: Typeface) -> Iterator[Scene]:
    top, head = _head(song, player, layers, faces)
    pages: list[list[Shape]] = [head]
    y, bottom = top, HEIGHT - MARGIN - 24
    for block in blocks_for(song, layers):
        made = _made(block, faces)
        if y + min(made.height, bottom - MARGIN) > bottom:
            pages.append([])
            y = MARGIN
        for high, shapes in made.rows:
            if y + high > bottom:
                pages.append([])
                y = MARGIN
            pages[-1] += _moved(shapes, y)
            y += high
        y += _BETWEEN
    for number, page in enumerate(pages, start=1):
        foot = _foot(song, player, f"{number} / {len(pages)}", faces)
        yield Scene(
            width=WIDTH,
            height=HEIGHT,
            title=f"{song.plan.title}: {player}",
            description=f"What {player} plays in {song.plan.title}, page {number} of {len(pages)}.",
            shapes=tuple(shape for shape in (*page, *foot) if not isinstance(shape, Text) or shape.text),
        )


def _head(song: Song, player: str, layers: Sequence[str], faces: Typeface) -> tuple[float, list[Shape]]:
    room = WIDTH - 2 * MARGIN
    facts = f"{song.total_bars} bars · {show_seconds(song.total_seconds).split('.')[0]}"
    title = faces.shorten(song.plan.title, _TITLE, room, bold=True)
    who = faces.shorten(player, _NAME, room * 0.6, bold=True)
    shapes: list[Shape] = [
        faces.set(title, (MARGIN, MARGIN + 20), _TITLE, bold=True),
        faces.set(who, (MARGIN, MARGIN + 46), _NAME, bold=True),
        faces.set(facts, (WIDTH - MARGIN, MARGIN + 46), _TEXT, share=1, colour=GREY),
    ]
    y = MARGIN + 64
    if list(layers) != [player]:
        for text in wrapped(", ".join(layers), faces, _TEXT, room)[:3]:
            shapes.append(faces.set(text, (MARGIN, y), _TEXT, colour=GREY))
            y += _TEXT * _LEADING
    if not can_engrave():
        hint = "without notation: install the extra 'score' for it"
        shapes.append(faces.set(hint, (MARGIN, y), _SMALL, colour=GREY))
        y += _SMALL * _LEADING
    shapes.append(line((MARGIN, y - 4), (WIDTH - MARGIN, y - 4), Paint(stroke=BLACK, thickness=1.2)))
    return y + 12, shapes


def _foot(song: Song, player: str, number: str, faces: Typeface) -> list[Shape]:
    y, room = HEIGHT - MARGIN, WIDTH - 2 * MARGIN
    words = faces.shorten(f"{player} · {song.plan.title}", _SMALL, room - 60)
    return [
        faces.set(words, (MARGIN, y), _SMALL, colour=GREY),
        faces.set(number, (WIDTH - MARGIN, y), _SMALL, share=1, colour=GREY),
    ]


def _made(block: Block, faces: Typeface) -> _Set:
    rows = [_heading(block, faces)]
    for mine in block.mine:
        rows += _played(mine, faces)
    for said in block.lines:
        rows += _said(said, faces)
    return _Set(tuple(rows))


def _heading(block: Block, faces: Typeface) -> tuple[float, tuple[Shape, ...]]:
    left, right = MARGIN, WIDTH - MARGIN
    bars = faces.set(block.bars, (right, 18), _BARS, share=1, bold=True)
    shapes: list[Shape] = [bars]
    if block.letter:
        letter = faces.shorten(block.letter, _LETTER, 90, bold=True)
        wide = faces.width(letter, _LETTER, bold=True) + 12
        shapes.append(Rectangle(box=Box(left, 0, wide, 24), paint=Paint(fill=BLACK)))
        shapes.append(faces.set(letter, (left + wide / 2, 19), _LETTER, share=0.5, bold=True, colour=WHITE))
        left += wide + 8
    name = faces.shorten(block.name, _NAME, bars.box.left - left - 12, bold=True)
    shapes.append(faces.set(name, (left, 18), _NAME, bold=True, colour=GREY if block.tacet else BLACK))
    facts = faces.shorten(block.facts, _TEXT, WIDTH - 2 * MARGIN)
    shapes.append(faces.set(facts, (right, 37), _TEXT, share=1, colour=GREY))
    if block.tacet:
        box = Box(MARGIN, 27, right - MARGIN - faces.width(facts, _TEXT) - 10, 12)
        shapes.append(Rectangle(box=box, paint=Paint(stroke=HAIR, thickness=0.8, dash=(3, 3))))
    return 45.0, tuple(shapes)


def _played(mine: Mine, faces: Typeface) -> Iterator[tuple[float, tuple[Shape, ...]]]:
    yield from _said(Line(mine.words, mine.name), faces)
    if mine.music is not None:
        high = mine.music.height * mine.scale + 6
        yield high, tuple(mine.music.at(MARGIN + _INDENT, 2, scale=mine.scale))


def _said(said: Line, faces: Typeface) -> Iterator[tuple[float, tuple[Shape, ...]]]:
    """Set a line of text with its head before it, wrapped."""
    high, room = _TEXT * _LEADING, WIDTH - 2 * MARGIN - _INDENT
    head = faces.shorten(said.head, _TEXT, room * 0.55, bold=True)
    start = faces.width(head, _TEXT, bold=True) + 7 if head else 0.0
    for number, text in enumerate(wrapped(said.text, faces, _TEXT, room, first=room - start)):
        left = MARGIN + _INDENT + (start if number == 0 else 0)
        shapes: list[Shape] = [faces.set(text, (left, high - 4), _TEXT)]
        if number == 0 and head:
            shapes.append(faces.set(head, (MARGIN + _INDENT, high - 4), _TEXT, bold=True))
        yield high, tuple(shapes)


def _moved(shapes: Sequence[Shape], y: float) -> list[Shape]:
    return [_down(shape, y) for shape in shapes]


def _down(shape: Shape, y: float) -> Shape:
    if isinstance(shape, Text):
        return replace(shape, baseline=shape.baseline + y)
    if isinstance(shape, Rectangle):
        box = shape.box
        return replace(shape, box=Box(box.left, box.top + y, box.width, box.height))
    segments = tuple(
        (command, tuple(value + y if index % 2 else value for index, value in enumerate(values)))
        for command, values in shape.segments
    )
    return replace(shape, segments=segments)
