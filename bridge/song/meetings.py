"""The full meetings of a solved song: where all who are to be resolved are home together.

This file knows nothing about how meetings are found: :mod:`bridge.cycles` does.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from bridge.cycles import meetings
from bridge.exact import Place
from bridge.song.model import PlacedSection, Song

__all__ = ["Meeting", "full_meetings", "landings"]


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
        yield from _within(placed)


def landings(song: Song) -> Iterator[Meeting]:
    """Walk through the landings: the ends of sections where two or more layers came home as asked."""
    for placed in song.sections:
        who = placed.section.resolve
        if placed.resolved and len(who) > 1:
            yield Meeting(place=placed.end, section=placed.section.index, layers=who, landing=True)


def _within(placed: PlacedSection) -> Iterator[Meeting]:
    asked = [part for part in placed.parts if part.layer.name in placed.section.resolve]
    parts = asked if len(asked) > 1 else list(placed.parts)
    if len(parts) < 2:
        return
    origin = min((part.entry for part in parts), key=lambda place: place.whole_notes)
    layers = [replace(part.layer, start=part.layer.start + (part.entry - origin)) for part in parts]
    found = meetings(layers)
    if found is None:
        return
    at = origin + found.at_or_after(placed.start - origin)
    while at < placed.end:
        names = tuple(layer.name for layer in layers)
        yield Meeting(place=at, section=placed.section.index, layers=names)
        at += found.every
