"""A layer's notes dealt out over the bars of the song, each lasting until the next.

What cannot be written exactly (a layer played at 73/72 of the tempo) is moved to the
nearest 1/32, the whole layer, and that is told.  This file knows nothing about XML.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import InternalError
from bridge.exact import Meter, Place
from bridge.out.musicxml.rhythm import Piece, Span, written_bar
from bridge.song import Bar, Part, Song

__all__ = ["GRID", "Staff", "WrittenBar", "staff_of"]

GRID = Fraction(1, 32)
"""Where notes go that no tuplet holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenBar:
    """One bar of one layer."""

    number: int
    meter: Meter
    start: Place
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Staff:
    """One layer from the song's first bar to its last."""

    name: str
    bars: tuple[WrittenBar, ...]
    moved: bool
    """Whether its notes were moved to the grid, at most half of it off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Note:
    """A note or a rest anywhere in the song, in whole notes."""

    start: Fraction
    end: Fraction
    sounds: bool
    accent: bool = False


def staff_of(song: Song, name: str) -> Staff:
    """Write the layer ``name`` of ``song``: exactly where it can be, else on the grid."""
    parts = song.sounding()[name]
    bars = list(song.bars)
    exact = _written(_notes(song, parts, None), bars)
    if exact is not None:
        return Staff(name=name, bars=exact, moved=False)
    moved = _written(_notes(song, parts, GRID), bars)
    if moved is None:
        raise InternalError(f"{name!r} cannot be written even on the grid")
    return Staff(name=name, bars=moved, moved=True)


def _notes(song: Song, parts: Sequence[Part], grid: Fraction | None) -> Iterator[_Note]:
    """Walk through the notes and rests of a layer without a gap; a note lasts until the next one."""
    at = Fraction(0)
    for part in parts:
        heads = _heads(part, grid)
        end = part.end.whole_notes
        ends = [start for start, _ in heads[1:]] + [end]
        if heads and heads[0][0] > at:
            yield _Note(start=at, end=heads[0][0], sounds=False)
        for (start, accent), stop in zip(heads, ends, strict=True):
            yield _Note(start=start, end=stop, sounds=True, accent=accent)
            at = stop
    if at < song.end.whole_notes:
        yield _Note(start=at, end=song.end.whole_notes, sounds=False)


def _heads(part: Part, grid: Fraction | None) -> list[tuple[Fraction, bool]]:
    """Return where notes begin and whether they are accented: homes are, where there is more than homes."""
    accents = len(part.layer.accents) > 1
    heads: dict[Fraction, bool] = {}
    for onset in part.onsets():
        at = onset.place.whole_notes
        if grid is not None:
            at = max(round(at / grid) * grid, part.start.whole_notes)
        if at < part.end.whole_notes:
            heads[at] = heads.get(at, False) or (onset.home and accents)
    return list(heads.items())


def _written(notes: Iterator[_Note], bars: Sequence[Bar]) -> tuple[WrittenBar, ...] | None:
    written = []
    note = next(notes)
    for bar in bars:
        start = bar.start.whole_notes
        end = start + bar.meter.length.whole_notes
        spans: list[Span] = []
        while True:
            spans.append(_span(note, start, end))
            if note.end > end:
                break
            follower = next(notes, None)
            if follower is None:
                break
            note = follower
            if note.start >= end:
                break
        pieces = written_bar(bar.meter, spans)
        if pieces is None:
            return None
        written.append(WrittenBar(number=bar.number, meter=bar.meter, start=bar.start, pieces=tuple(pieces)))
    return tuple(written)


def _span(note: _Note, start: Fraction, end: Fraction) -> Span:
    return Span(
        start=max(note.start, start) - start,
        end=min(note.end, end) - start,
        sounds=note.sounds,
        tied_from=note.sounds and note.start < start,
        tied_on=note.sounds and note.end > end,
        accent=note.accent and note.start >= start,
    )
