"""The meetings of a solved song, one by one: where all who are to be resolved are home together.

This file knows nothing about how meetings are found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.exact import Place
from bridge.song.gathering import gathering_in
from bridge.song.model import PlacedSection, Song

__all__ = ["Meeting", "full_meetings", "landing_of", "landings", "meetings_in"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """An instant at which two or more layers are home together."""

    place: Place
    section: int
    """The section it lies in or, for a landing, ends."""
    layers: tuple[str, ...]
    landing: bool = False


def full_meetings(song: Song) -> Iterator[Meeting]:
    """Walk through the full meetings within the sections, in order, each start included.

    Of the layers to be resolved that sound, or of all that sound where nobody is to be.
    """
    for placed in song.sections:
        yield from meetings_in(placed)


def landings(song: Song) -> Iterator[Meeting]:
    """Walk through the landings: the ends of sections where two or more layers came home as asked."""
    return (landing for placed in song.sections if (landing := landing_of(placed)) is not None)


def landing_of(placed: PlacedSection) -> Meeting | None:
    """Return the landing of a section, or None where fewer than two layers came home as asked."""
    who = placed.section.resolve
    if not placed.resolved or len(who) < 2:
        return None
    return Meeting(place=placed.end, section=placed.section.index, layers=who, landing=True)


def meetings_in(placed: PlacedSection) -> Iterator[Meeting]:
    """Walk through the full meetings within one section, its start included, its end not."""
    found = gathering_in(placed)
    if found is None:
        return
    asked = tuple(part.layer.name for part in placed.parts if part.layer.name in placed.section.resolve)
    names = asked if len(asked) > 1 else tuple(part.layer.name for part in placed.parts)
    for place in found.between(placed.start, placed.counts_until):
        yield Meeting(place=place, section=placed.section.index, layers=names)
