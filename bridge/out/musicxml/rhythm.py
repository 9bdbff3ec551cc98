"""A layer's bar as written notes and rests: split at beats, tied, in tuplets where they must be.

This file knows nothing about XML.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise

from bridge.exact import Meter
from bridge.out.musicxml.values import Tuplet, Value, is_written, spelled, tuplet_for

__all__ = ["Piece", "Span", "written_bar"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A stretch of a bar in which one note sounds, or none: offsets from the barline in whole notes."""

    start: Fraction
    end: Fraction
    sounds: bool
    tied_from: bool = False
    """It goes on from the bar before."""
    tied_on: bool = False
    """It goes on in the next bar."""
    accent: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One written note or rest."""

    start: Fraction
    length: Fraction
    value: Value
    sounds: bool
    tuplet: Tuplet | None = None
    opens: bool = False
    """It is the first of its tuplet."""
    closes: bool = False
    """It is the last of its tuplet."""
    tied_from: bool = False
    tied_on: bool = False
    accent: bool = False
    whole_bar: bool = False
    """A rest that fills its bar, whatever the meter."""


def written_bar(meter: Meter, spans: Sequence[Span]) -> list[Piece] | None:
    """Write a bar that ``spans`` fill without a gap; None where it cannot be written exactly.

    A bar without notes is one whole-bar rest.  Where a border falls between the written
    values, the tuplet is taken over the whole bar or beat by beat, whichever has fewer notes.
    """
    bar = meter.length.whole_notes
    if not any(span.sounds for span in spans):
        return [Piece(start=Fraction(0), length=bar, value=Value(Fraction(1)), sounds=False, whole_bar=True)]
    beats = list(accumulate(beat.whole_notes for beat in meter.counted))
    choices = [_parts(spans, ends) for ends in ([bar], beats)]
    possible = [choice for choice in choices if choice is not None]
    if not possible:
        return None
    best = min(possible, key=lambda parts: sum(part.notes for part in parts))
    return [piece for part in best for piece in _written(part, beats)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """A part of a bar, written with one tuplet or none."""

    start: Fraction
    spans: list[Span]
    tuplet: Tuplet | None

    @property
    def notes(self) -> int:
        return self.tuplet.actual if self.tuplet else 0


def _parts(spans: Sequence[Span], ends: Sequence[Fraction]) -> list[_Part] | None:
    """Cut the bar at ``ends`` and find each part's tuplet; None where one cannot be written."""
    parts = []
    for start, end in pairwise([Fraction(0), *ends]):
        inside = _cut(spans, start, end)
        tuplet = None
        if not all(is_written(span.start) for span in inside):
            tuplet = tuplet_for(end - start, (span.start - start for span in inside))
            if tuplet is None:
                return None
        parts.append(_Part(start=start, spans=inside, tuplet=tuplet))
    return _joined(parts)


def _joined(parts: list[_Part]) -> list[_Part]:
    """Join neighbours without a tuplet again, so that a long note is not cut at every beat."""
    joined: list[_Part] = []
    for part in parts:
        if joined and part.tuplet is None and joined[-1].tuplet is None:
            before = joined.pop()
            part = _Part(start=before.start, spans=_welded(before.spans, part.spans), tuplet=None)  # noqa: PLW2901
        joined.append(part)
    return joined


def _welded(before: list[Span], after: list[Span]) -> list[Span]:
    """Join two rows of spans, making one span again of a note or rest that was cut between them."""
    last, first = before[-1], after[0]
    same = last.tied_on and first.tied_from if last.sounds else not first.sounds
    if not same:
        return before + after
    whole = replace(last, end=first.end, tied_on=first.tied_on)
    return [*before[:-1], whole, *after[1:]]


def _cut(spans: Sequence[Span], start: Fraction, end: Fraction) -> list[Span]:
    inside = []
    for span in spans:
        if span.end <= start or span.start >= end:
            continue
        before, after = span.start < start, span.end > end
        inside.append(
            replace(
                span,
                start=max(span.start, start),
                end=min(span.end, end),
                tied_from=span.sounds and (before or span.tied_from),
                tied_on=span.sounds and (after or span.tied_on),
                accent=span.accent and not before,
            )
        )
    return inside


def _written(part: _Part, beats: Sequence[Fraction]) -> list[Piece]:
    tuplet = part.tuplet
    pieces: list[Piece] = []
    for span in part.spans:
        pieces += _plain(span, beats) if tuplet is None else _in_tuplet(span, part.start, tuplet)
    if tuplet is not None:
        pieces[0] = replace(pieces[0], opens=True)
        pieces[-1] = replace(pieces[-1], closes=True)
    return pieces


def _plain(span: Span, beats: Sequence[Fraction]) -> list[Piece]:
    return _tied(span, spelled(span.start, span.end, beats), None)


def _in_tuplet(span: Span, origin: Fraction, tuplet: Tuplet) -> list[Piece]:
    """Spell a span in the tuplet's own units, as if its first note stood on a barline."""
    start, end = ((at - origin) / tuplet.ratio for at in (span.start, span.end))
    whole = tuplet.unit.whole_notes * tuplet.actual
    return _tied(span, spelled(start, end, [whole]), tuplet)


def _tied(span: Span, values: Sequence[Value], tuplet: Tuplet | None) -> list[Piece]:
    pieces, at = [], span.start
    for number, value in enumerate(values):
        length = value.whole_notes * (tuplet.ratio if tuplet else 1)
        pieces.append(
            Piece(
                start=at,
                length=length,
                value=value,
                sounds=span.sounds,
                tuplet=tuplet,
                tied_from=span.sounds and (span.tied_from or number > 0),
                tied_on=span.sounds and (span.tied_on or number < len(values) - 1),
                accent=span.accent and number == 0,
            )
        )
        at += length
    return pieces
