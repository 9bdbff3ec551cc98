"""The songs of a set in one host's timeline, or one after another where the bridge leads.

This file knows nothing about where the show stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from bridge.errors import UsageError
from bridge.exact import Length, Place
from bridge.song import HostCount, Song

__all__ = ["Programme", "Spot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place in a song of the set: its section, and how far into it (negative in a count-in)."""

    song: int
    section: int
    into: Length


@dataclass(frozen=True)
class Programme:
    """The songs, in playing order."""

    songs: tuple[Song, ...]

    def __post_init__(self) -> None:
        if not self.songs:
            raise UsageError("a show has at least one song")

    @classmethod
    def in_timeline(cls, songs: Sequence[Song]) -> Programme:
        """Make the set of songs in one host's timeline; UsageError where two of them overlap.

        Each begins where its plan's ``origin`` says.
        """
        placed = sorted(songs, key=_begins)
        for before, after in pairwise(placed):
            if _begins(before) + before.end.quarters > _begins(after):
                raise UsageError(
                    f"{after.plan.title!r} begins in the host before {before.plan.title!r} is over",
                    hint="Give each plan its own 'origin: {bar: N}', after the last bar of the one before.",
                )
        return cls(tuple(placed))

    def with_song(self, number: int, song: Song) -> Programme:
        """Return the set with another form of one song."""
        return Programme((*self.songs[:number], song, *self.songs[number + 1 :]))

    def host_quarters(self, song: int, place: Place) -> Fraction:
        """Return the host's quarters at ``place`` of a song."""
        return _begins(self.songs[song]) + place.quarters

    def plan_quarters(self, song: int, host: float) -> float:
        """Return the song's quarters, from its bar 1, where the host shows ``host``."""
        return host - self._floats[song]

    @cached_property
    def _floats(self) -> tuple[float, ...]:
        return tuple(float(_begins(song)) for song in self.songs)

    def spot(self, host: float) -> Spot | None:
        """Return where in the set the host stands, negative before a song; None after the last one."""
        for number, song in enumerate(self.songs):
            quarters = Fraction(host) - _begins(song)
            if quarters < song.end.quarters:
                place = Place(quarters / 4)
                if place < Place(0):
                    return Spot(song=number, section=0, into=place - Place(0))
                placed = song.section_at(place)
                if placed is None:
                    continue
                return Spot(song=number, section=placed.section.index, into=place - placed.start)
        return None


def _begins(song: Song) -> Fraction:
    return HostCount(song).whole_notes(Place(0)) * 4
