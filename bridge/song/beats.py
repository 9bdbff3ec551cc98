"""The beats that players count, section by section, as rows at even distances.

This file knows nothing about sound or seconds.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.song.bars import Bar
from bridge.song.model import PlacedSection, Song
from bridge.song.note_row import NoteRow

__all__ = ["CLICK", "counted_in", "counted_rows"]

CLICK = "click"
"""The name under which counted beats appear among the notes."""


def counted_rows(placed: PlacedSection) -> Iterator[NoteRow]:
    """Walk through the rows of a section's counted beats; ``home`` are the barlines' ones.

    One row for each beat of the list of meters, repeating with the list.
    """
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


def counted_in(song: Song, placed: PlacedSection) -> Iterator[Bar]:
    """Walk through the bars of the song that are counted in before ``placed``, none before bar 1."""
    first = max(1, placed.first_bar - placed.section.count_in)
    return (song.bars.bar_at(song.bars.start_of(number)) for number in range(first, placed.first_bar))
