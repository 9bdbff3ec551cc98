"""The beats that players count, section by section, as rows at even distances.

This file knows nothing about sound or seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bridge.exact import Place, Ratio
from bridge.song.bars import Bar
from bridge.song.model import PlacedSection, Song
from bridge.song.note_row import NoteRow

__all__ = ["CLICK", "counted_in", "counted_rows"]

CLICK = "click"
"""The name under which counted beats appear among the notes."""


def counted_rows(placed: PlacedSection) -> Iterator[NoteRow]:
    """Walk through the rows of a section's counted beats; ``home`` are the barlines' ones.

    One row for each beat of the list of meters, repeating with the list; none in a free passage.
    """
    if placed.section.free is not None:
        return
    meters, offset = placed.section.meters, placed.start
    for meter in meters.row:
        bar = offset
        for beat in meter.counted:
            yield NoteRow.between(
                CLICK,
                origin=offset,
                step=meters.length,
                start=placed.start,
                end=placed.end,
                home=offset == bar,
            )
            offset += beat


def counted_in(song: Song, placed: PlacedSection) -> tuple[tuple[Place, bool], ...]:
    """Return the beats that are counted in before ``placed``, each with whether its bar begins there.

    They are those of the bars before it, none before bar 1.  In a free passage there are none: what
    lies in it is counted as bars of the section that ends it, at that one's tempo, up to its end.
    """
    beats: list[tuple[Place, bool]] = []
    for number in range(placed.section.count_in):
        last = placed.first_bar - 1 - number
        before = song.section_at(song.bars.start_of(last)) if last >= 1 else None
        if before is None:
            break
        if before.section.free is not None:
            beats += _ending(
                before, song.sections[before.section.index + 1], placed.section.count_in - number
            )
            break
        beats += song.bars.bar_at(song.bars.start_of(last)).beats()
    return tuple(sorted(beats, key=lambda beat: beat[0].whole_notes))


def _ending(passage: PlacedSection, following: PlacedSection, bars: int) -> Iterator[tuple[Place, bool]]:
    """Walk through the last beats of a free passage, in which what follows is counted in."""
    slower = Ratio(passage.section.tempo.end / following.section.tempo.start)
    meter = following.section.meters.bar(1)
    bar = Bar(number=1, start=Place(0) - meter.length * bars, meter=meter)
    for number in range(bars):
        for place, first in replace(bar, start=bar.start + meter.length * number).beats():
            at = passage.end + place.since_start * slower
            if at >= passage.start:
                yield at, first
