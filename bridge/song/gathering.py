"""The full meetings of parts that may have come in at different places, as one row and what follows it.

While a part tightens it has no one cycle: meetings there are found home by home.  This file
knows nothing about how meetings in a row are found: :mod:`bridge.cycles` does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter

from bridge.cycles import meetings
from bridge.exact import Length, Place
from bridge.song.model import Part, PlacedSection

__all__ = ["Gathering", "gathering", "gathering_in"]

_AT = attrgetter("whole_notes")


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathering:
    """Where some parts are all home: at ``first``, then ``every`` so often; before ``until``, if given.

    From there on only the places in ``then``, in order.
    """

    first: Place
    every: Length
    until: Place | None = None
    then: tuple[Place, ...] = ()

    def at_or_after(self, place: Place) -> Place | None:
        """Return the first of them at ``place`` or later; None where there is none."""
        at = self.first
        if place > at:
            at += self.every * -((self.first - place) // self.every)
        if self.until is None or at < self.until:
            return at
        return next((one for one in self.then if one >= place), None)

    def between(self, start: Place, end: Place) -> Iterator[Place]:
        """Walk through them from ``start`` on and before ``end``."""
        place = self.at_or_after(start)
        while place is not None and place < end:
            yield place
            place = self._after(place)

    def _after(self, place: Place) -> Place | None:
        if self.until is not None and place >= self.until:
            return next((one for one in self.then if one > place), None)
        at = place + self.every
        return at if self.until is None or at < self.until else next(iter(self.then), None)


def gathering(parts: Sequence[Part], *, end_of_all: Place | None = None) -> Gathering | None:
    """Return where all of ``parts`` are home while all sound; None with fewer than two, or when never.

    Where all sound up to ``end_of_all``, by default the last part's end, and nobody tightens,
    the row goes on beyond that end.
    """
    if len(parts) < 2:
        return None
    begin = max((part.start for part in parts), key=_AT)
    end = min((part.end for part in parts), key=_AT)
    until = min((part.tightens_at for part in parts), key=_AT)
    is_endless = until == (end_of_all or max((part.end for part in parts), key=_AT))
    then = () if until >= end else tuple(_home_by_home(parts, begin, until, end))
    row = _row(parts, begin)
    if row is not None and (is_endless or row.first < until):
        return row if is_endless else replace(row, until=until, then=then)
    if not then:
        return None
    return Gathering(first=then[0], every=then[-1] - then[0] or end - then[0], until=then[0], then=then)


def gathering_in(placed: PlacedSection) -> Gathering | None:
    """Return the full meetings in ``placed``, or None when there is none before its end.

    Of the layers to be resolved that sound or, with fewer than two of them, of all that sound.
    """
    asked = [part for part in placed.parts if part.layer.name in placed.section.resolve]
    found = gathering(asked if len(asked) > 1 else placed.parts, end_of_all=placed.end)
    first = found.at_or_after(placed.start) if found else None
    return found if first is not None and first < placed.counts_until else None


def _row(parts: Sequence[Part], begin: Place) -> Gathering | None:
    """Find the meetings of the parts' own cycles, from ``begin`` on."""
    origin = min((part.entry for part in parts), key=_AT)
    found = meetings([replace(part.layer, start=part.layer.start + (part.entry - origin)) for part in parts])
    if found is None:
        return None
    return Gathering(first=origin + found.at_or_after(max(Length(0), begin - origin)), every=found.every)


def _home_by_home(parts: Sequence[Part], begin: Place, start: Place, end: Place) -> Iterator[Place]:
    """Walk through the meetings from ``start`` on, along the homes of a part that tightens there."""
    tight = next((part for part in parts if part.tightened is not None), None)
    if tight is None:
        return
    for home in tight.homes():
        if max(begin, start, key=_AT) <= home < end and all(part.is_home(home) for part in parts):
            yield home
