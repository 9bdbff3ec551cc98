"""The full meetings of parts that may have come in at different places, as one row.

This file knows nothing about how meetings are found: :mod:`bridge.cycles` does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from bridge.cycles import meetings
from bridge.exact import Length, Place
from bridge.song.model import Part, PlacedSection

__all__ = ["Gathering", "gathering", "gathering_in"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathering:
    """Where some parts are all home: at ``first``, then ``every`` so often, without end."""

    first: Place
    every: Length

    def at_or_after(self, place: Place) -> Place:
        """Return the first of them at ``place`` or later."""
        if place <= self.first:
            return self.first
        return self.first + self.every * -((self.first - place) // self.every)

    def between(self, start: Place, end: Place) -> Iterator[Place]:
        """Walk through them from ``start`` on and before ``end``."""
        place = self.at_or_after(start)
        while place < end:
            yield place
            place += self.every


def gathering(parts: Sequence[Part]) -> Gathering | None:
    """Return where all of ``parts`` are home; None with fewer than two, or when they never are."""
    if len(parts) < 2:
        return None
    origin = min((part.entry for part in parts), key=lambda place: place.whole_notes)
    found = meetings([replace(part.layer, start=part.layer.start + (part.entry - origin)) for part in parts])
    return None if found is None else Gathering(first=origin + found.first, every=found.every)


def gathering_in(placed: PlacedSection) -> Gathering | None:
    """Return the full meetings in ``placed``, or None when there is none before its end.

    Of the layers to be resolved that sound or, with fewer than two of them, of all that sound.
    """
    asked = [part for part in placed.parts if part.layer.name in placed.section.resolve]
    found = gathering(asked if len(asked) > 1 else placed.parts)
    return found if found and found.at_or_after(placed.start) < placed.counts_until else None
