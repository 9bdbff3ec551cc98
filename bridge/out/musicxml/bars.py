"""A layer's notes dealt out over the bars of the song, each lasting until the next.

What cannot be written exactly (a layer played at 73/72 of the tempo) is moved to the
nearest 1/32, the whole layer, and that is told.  This file knows nothing about XML.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain

from bridge.errors import InternalError
from bridge.exact import Length, Meter, Place
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


def staff_of(song: Song, name: str, *, first_bar: int = 1, bars: int | None = None) -> Staff:
    """Write the layer ``name``: exactly where it can be, else on the grid.

    All of ``song``, bar 0 included where it begins with a pickup, or ``bars`` bars of it
    from ``first_bar`` on.
    """
    shown = (
        [*_bar_before(song), *song.bars]
        if bars is None
        else [_bar(song, first_bar + number) for number in range(bars)]
    )
    parts = song.sounding()[name]
    for grid in (None, GRID):
        written = _written(_notes(parts, shown, grid), shown)
        if written is not None:
            return Staff(name=name, bars=written, moved=grid is not None)
    raise InternalError(f"{name!r} cannot be written even on the grid")


def _bar_before(song: Song) -> list[Bar]:
    return [_bar(song, 0)] if song.plan.sections[0].pickup else []


def _bar(song: Song, number: int) -> Bar:
    return song.bars.bar_at(song.bars.start_of(number))


def _notes(parts: Sequence[Part], bars: Sequence[Bar], grid: Fraction | None) -> Iterator[_Note]:
    """Walk through notes and rests over ``bars`` without a gap; a note lasts until the next one.

    It ends with its section at the latest, unless the layer runs on into the next.
    """
    at = bars[0].start.whole_notes
    end = bars[-1].start.whole_notes + bars[-1].meter.length.whole_notes
    for start, stop, accent in _sounding(parts, at, end, grid):
        if stop <= at or start >= end:
            continue
        if start > at:
            yield _Note(start=at, end=start, sounds=False)
        yield _Note(start=start, end=stop, sounds=True, accent=accent)
        at = stop
    if at < end:
        yield _Note(start=at, end=end, sounds=False)


def _sounding(
    parts: Sequence[Part], first: Fraction, last: Fraction, grid: Fraction | None
) -> Iterator[tuple[Fraction, Fraction, bool]]:
    """Walk through the notes between ``first`` and ``last``, and the one that sounds at ``first``."""
    held: tuple[Fraction, bool] | None = None
    before: Part | None = None
    for part in chain.from_iterable(whole.stretches for whole in parts):
        heads = _heads(_clipped(part, first, last), grid)
        goes_on = before is not None and before.end == part.start and before.entry == part.entry
        if held is not None and before is not None and not goes_on:
            yield held[0], before.sounds_until.whole_notes, held[1]
            held = None
        for head in heads:
            if held is not None:
                yield held[0], head[0], held[1]
            held = head
        before = part
    if held is not None and before is not None:
        yield held[0], before.sounds_until.whole_notes, held[1]


def _clipped(part: Part, first: Fraction, last: Fraction) -> Part:
    """Return the part cut down to what matters between two places: the turn before, the turn after."""
    turn = part.layer.turn.whole_notes
    start = max(part.start.whole_notes, min(first - turn, part.end.whole_notes))
    end = max(start, min(part.end.whole_notes, last + turn))
    return replace(
        part,
        start=Place(start),
        end=Place(end),
        pickup=part.pickup if start == part.start.whole_notes else Length(0),
        leaves=part.leaves if end == part.end.whole_notes else Length(0),
    )


def _heads(part: Part, grid: Fraction | None) -> list[tuple[Fraction, bool]]:
    """Return where notes begin and whether they are accented: homes are, where there is more than homes."""
    accents = len(part.layer.accents) > 1
    heads: dict[Fraction, bool] = {}
    for onset in part.onsets():
        at = onset.place.whole_notes
        if grid is not None:
            at = max(round(at / grid) * grid, (part.start - part.pickup).whole_notes)
        if at < part.sounds_until.whole_notes:
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
