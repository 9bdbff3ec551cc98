"""The score put together: a rhythm staff a layer, meters, tempi, rehearsal marks, directions.

Times at every barline are exact: under a ramp each bar gets the one tempo at which it
lasts as long as it should.  This file knows nothing about files.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate
from math import lcm
from xml.etree.ElementTree import Element, indent, tostring

from bridge.errors import UsageError
from bridge.exact import FASTEST, Bars, Tempo, show_number
from bridge.out.musicxml.bars import GRID, Staff, WrittenBar, staff_of
from bridge.out.musicxml.elements import add, attributes, beams, note, rehearsal, tempo_mark, words
from bridge.song import END, Bar, PlacedSection, Song, counted_turns, left_open, stages_in_words

__all__ = ["Score", "score_of"]

_HEAD = (
    b'<?xml version="1.0" encoding="UTF-8"?>\n'
    b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    b'"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_MOST = 200_000
"""Notes and bars of all staves together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """A song as MusicXML, and what could not be written as it is played."""

    content: bytes
    notes: tuple[str, ...]
    divisions: int


def score_of(song: Song, layers: Sequence[str] | None = None) -> Score:
    """Write ``song`` as MusicXML 4.0, all layers or those named.

    UsageError with more than 200,000 notes and bars, which no program opens.
    """
    names = list(song.plan.layers) if layers is None else list(layers)
    _refuse_too_many(song, names)
    staves = [staff_of(song, name) for name in names]
    divisions = _divisions(staves)
    root = Element("score-partwise", {"version": "4.0"})
    add(add(root, "work"), "work-title", song.plan.title)
    add(add(add(root, "identification"), "encoding"), "software", "pulsebridge")
    listed = add(root, "part-list")
    for number, staff in enumerate(staves, start=1):
        entry = add(listed, "score-part", id=f"P{number}")
        add(entry, "part-name", staff.name)
    for number, staff in enumerate(staves, start=1):
        _part(add(root, "part", id=f"P{number}"), song, staff, divisions=divisions, first=number == 1)
    indent(root, " ")
    return Score(
        content=_HEAD + tostring(root, encoding="utf-8") + b"\n",
        notes=tuple(_told(song, staves)),
        divisions=divisions,
    )


def _refuse_too_many(song: Song, names: Sequence[str]) -> None:
    sounding = song.sounding()
    notes = sum(row.count for name in names for part in sounding[name] for row in part.rows())
    count = notes + song.total_bars * len(names)
    if count > _MOST:
        raise UsageError(
            f"a score of {notes:,} notes in {song.total_bars:,} bars of {len(names)} staves is more than "
            f"a notation program opens; at most {_MOST:,} together",
            hint="Leave the fastest layer out of the plan for the score, or export .mid.",
        )


def _divisions(staves: Sequence[Staff]) -> int:
    """Return the divisions of a quarter in which every length is a whole number."""
    lengths = {piece.length * 4 for staff in staves for bar in staff.bars for piece in bar.pieces}
    return lcm(*(length.denominator for length in lengths))


def _told(song: Song, staves: Sequence[Staff]) -> list[str]:
    tempi = [placed.section.tempo for placed in song.sections if placed.section.free is None]
    slowest = min((bpm for tempo in tempi for bpm in (tempo.start, tempo.end)), default=FASTEST)
    bound = float(GRID / 2 * 240 / slowest * 1000)
    told = [
        f"{staff.name!r} cannot be written exactly: its notes stand on the nearest {GRID}, "
        f"at most {bound:.0f} ms off (the .mid has them exactly)"
        for staff in staves
        if staff.moved
    ]
    if any(not placed.section.tempo.is_constant for placed in song.sections):
        told.append("tempo ramps are played bar by bar: right at every barline, approximate within the bar")
    return told


def _part(part: Element, song: Song, staff: Staff, *, divisions: int, first: bool) -> None:
    meter = None
    sections = {placed.first_bar: placed for placed in song.sections}
    played: Tempo | None = None
    within: PlacedSection | None = None
    for bar in staff.bars:
        measure = add(part, "measure", number=str(bar.number))
        if bar.number < 1:
            measure.set("implicit", "yes")
        attributes(
            measure,
            divisions=divisions if bar is staff.bars[0] else None,
            meter=bar.meter if bar.meter != meter else None,
        )
        meter = bar.meter
        placed = sections.get(bar.number)
        if first:
            _led_in(measure, song, bar, sections)
        if placed is not None:
            _section(measure, song, staff, placed, first=first, before=played)
            played = placed.section.tempo
        elif first and played is not None and not played.is_constant:
            tempo_mark(measure, _bar_tempo(song, bar), shown=False)
        states = beams(bar.pieces, list(accumulate(beat.whole_notes for beat in bar.meter.counted)))
        within = placed or within
        held = within is not None and within.section.free is not None
        for piece, beam in zip(bar.pieces, states, strict=True):
            note(measure, piece, divisions=divisions, beam=beam, held=held)
        _barline(measure, song, bar, sections, first=first)


def _led_in(measure: Element, song: Song, bar: WrittenBar, sections: dict[int, PlacedSection]) -> None:
    """Say where a section is counted in and where its pickup lies; bar 0 gets the tempo of bar 1."""
    if bar.number < 1:
        tempo_mark(measure, song.sections[0].section.tempo.start, shown=False)
    for placed in sections.values():
        section = placed.section
        if section.count_in and bar.number == _counted_from(placed, sections):
            words(measure, f"count-in to {section.name}: {Bars(section.count_in)}")
        if section.pickup and bar.number == placed.first_bar - 1:
            words(measure, f"pickup to {section.name}")


def _counted_from(placed: PlacedSection, sections: dict[int, PlacedSection]) -> int:
    """Return the bar over which a count-in is announced: the last of a free passage that it reaches into."""
    first = max(1, placed.first_bar - placed.section.count_in)
    free = [one.last_bar for one in sections.values() if one.section.free is not None]
    return max([first, *(last for last in free if last < placed.first_bar)])


def _section(
    measure: Element, song: Song, staff: Staff, placed: PlacedSection, *, first: bool, before: Tempo | None
) -> None:
    """Add what stands over a section's first bar: for all in the first staff, its own turns in each."""
    section = placed.section
    if first:
        rehearsal(measure, section.letter or section.name)
        bars = left_open(section) if section.free is not None else str(Bars(placed.bars))
        words(measure, f"{section.name} · {bars}" if section.letter else bars)
        if section.vamp is not None:
            words(measure, left_open(section))
        if section.note:
            words(measure, section.note)
        _tempo(measure, song, placed, before)
    mine = next((part for part in placed.parts if part.layer.name == staff.name), None)
    if mine is None:
        freely = section.free is not None and staff.name in section.free.layers
        words(measure, "plays freely" if freely else "tacet", placement="below")
    else:
        told = [counted_turns(mine.own_turns)] if mine.own_turns else []
        told += [stages_in_words(mine)] if mine.tightened else []
        words(measure, ", then ".join(told) or "0 turns", placement="below")


def _tempo(measure: Element, song: Song, placed: PlacedSection, before: Tempo | None) -> None:
    tempo = placed.section.tempo
    if placed.section.free is not None:
        tempo_mark(measure, tempo.start, shown=False)
        return
    if tempo.is_constant:
        if before is None or before.end != tempo.start:
            tempo_mark(measure, tempo.start, shown=True)
        elif not before.is_constant:
            tempo_mark(measure, tempo.start, shown=False)
        return
    tempo_mark(measure, tempo.start, shown=True)
    words(measure, f"{'accel.' if tempo.end > tempo.start else 'rall.'} to {show_number(tempo.end)}")
    tempo_mark(measure, _bar_tempo(song, song.bars.bar_at(placed.start)), shown=False)


def _bar_tempo(song: Song, bar: Bar | WrittenBar) -> Fraction:
    """Return the one tempo at which the bar lasts as long as under the ramp."""
    length = bar.meter.length
    return length.quarters * 60 / (song.seconds(bar.start + length) - song.seconds(bar.start))


def _barline(
    measure: Element, song: Song, bar: WrittenBar, sections: dict[int, PlacedSection], *, first: bool
) -> None:
    last = bar.number == song.total_bars
    if bar.number < 1 or (not last and bar.number + 1 not in sections):
        return
    if last and first:
        words(measure, END)
    line = add(measure, "barline", location="right")
    add(line, "bar-style", "light-heavy" if last else "light-light")
