"""Notes of one layer at even distances: the song's notes as few exact rows instead of many places.

A layer that repeats plays, in one section, one such row for each note of its cycle.  A row
turns into ticks and samples by whole-number arithmetic, however long it is.  This file
knows nothing about sections, tempo or sound.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.exact import Length, Place

__all__ = ["NoteRow"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteRow:
    """``count`` notes (0 or more) of ``layer``, the first at ``first``, ``step`` apart."""

    layer: str
    first: Place
    step: Length
    count: int
    home: bool
    """Whether a cycle begins at each of them."""

    @classmethod
    def between(
        cls, layer: str, *, origin: Place, step: Length, start: Place, end: Place, home: bool
    ) -> NoteRow:
        """Make the row of ``origin`` and every ``step`` after it, from ``start`` on and before ``end``."""
        first = origin if origin >= start else origin + step * -((origin - start) // step)
        count = max(0, -((first - end) // step))
        return cls(layer=layer, first=first, step=step, count=count, home=home)

    def places(self) -> Iterator[Place]:
        """Walk through its places in order."""
        place = self.first
        for _ in range(self.count):
            yield place
            place += self.step
