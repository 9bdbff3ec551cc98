"""Readings on energy as a whole: its range, long stretches at one level, the end.

This file knows nothing about payoffs or remedies.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from bridge.form.finding import Finding, Look
from bridge.form.rules import BAND, MIDDLE, RULES, WHOLE_SONG_SECONDS
from bridge.form.score import Piece, Score
from bridge.form.words import number, time

__all__ = ["narrow_range", "one_level", "undecided_end"]


def narrow_range(score: Score, limit: Fraction) -> Look:
    """Compare the range of energy with the song's length."""
    name = "narrow range"
    points = [point for index in score.known for point in score.energy(index)]
    if score.seconds < WHOLE_SONG_SECONDS or not score.sounding:
        return Look(name=name)
    found = max(points) - min(points) if points else Fraction(0)
    if points and found >= limit:
        return Look(name=name)
    if score.unknown:
        return Look(name=name, unjudged=score.unknown)
    says = (
        f"Energy goes from {number(min(points))} to {number(max(points))}, {number(found)} points; "
        f"a song of {time(score.seconds)} has room for {number(Fraction(ceil(limit)))}"
    )
    figures = {"lowest": min(points), "highest": max(points), "song_seconds": score.seconds}
    one = Finding(
        rule=RULES[name], section=None, sections=(), found=found, limit=limit, says=says, figures=figures
    )
    return Look(name=name, findings=(one,))


def one_level(score: Score, limit: Fraction) -> Look:
    """Find the long stretches within which energy hardly moves, longest from the left."""
    findings: dict[int, Finding] = {}
    for row in _unbroken(score):
        at = 0
        while at < len(row):
            stretch = _level_from(row, at)
            seconds = stretch[-1].end - stretch[0].start if stretch else Fraction(0)
            if seconds > limit:
                findings.setdefault(stretch[0].section, _level(score, stretch, seconds, limit))
                at += len(stretch)
            else:
                at += 1
    return Look(name="one level", findings=tuple(findings.values()), unjudged=score.unknown)


def undecided_end(score: Score, limit: Fraction) -> Look:
    """Look at the energy with which the last section that sounds ends."""
    name = "undecided end"
    if score.seconds < WHOLE_SONG_SECONDS or not score.sounding:
        return Look(name=name)
    last = score.sounding[-1]
    if not score.energy(last):
        return Look(name=name, unjudged=(last,))
    ends = score.energy(last)[-1]
    found = abs(ends - MIDDLE)
    if found >= limit:
        return Look(name=name)
    says = (
        f"The song ends at energy {number(ends)}: neither low ({number(MIDDLE - limit)} or less)"
        f" nor high ({number(MIDDLE + limit)} or more)"
    )
    one = Finding(
        rule=RULES[name],
        section=last,
        sections=(last,),
        found=found,
        limit=limit,
        says=says,
        figures={"ends_at": ends},
        key="energy",
    )
    return Look(name=name, findings=(one,))


def _unbroken(score: Score) -> Iterator[list[Piece]]:
    """Yield the pieces of sections in a row whose energy is known and that sound."""
    for row in score.rows(score.known):
        yield [piece for index in row for piece in score.pieces(index)]


def _level_from(row: list[Piece], at: int) -> list[Piece]:
    """Return the longest stretch from ``at`` on that stays within the band; none where the piece does not."""
    low, high = row[at].low, row[at].high
    end = at
    while end < len(row) and max(high, row[end].high) - min(low, row[end].low) <= BAND:
        low, high = min(low, row[end].low), max(high, row[end].high)
        end += 1
    return row[at:end]


def _level(score: Score, stretch: list[Piece], seconds: Fraction, limit: Fraction) -> Finding:
    sections = tuple(dict.fromkeys(piece.section for piece in stretch))
    low, high = min(piece.low for piece in stretch), max(piece.high for piece in stretch)
    where = f"at {number(low)}" if low == high else f"between {number(low)} and {number(high)}"
    says = (
        f"{score.names(sections)} {'stays' if len(sections) == 1 else 'stay'} {where} for {time(seconds)};"
        f" up to {time(limit)} a song of this length carries it"
    )
    return Finding(
        rule=RULES["one level"],
        section=sections[0],
        sections=sections,
        found=seconds,
        limit=limit,
        says=says,
        figures={"lowest": low, "highest": high},
        key="energy",
    )
