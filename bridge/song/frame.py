"""Where a file's zero lies, and what every place of the song is from there.

A file starts at the plan's bar 1, or a count-in before it, or a bar before it where the
song begins with a pickup, or where the host's own bar 1 lies.  This file knows nothing about formats.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.errors import UsageError
from bridge.exact import Bars, Length, Place
from bridge.song.bars import Bar, BarBeat
from bridge.song.host import HostCount
from bridge.song.model import Song

__all__ = ["Frame", "bars_counted_in"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The song as one file holds it: ``lead`` and ``lead_seconds`` come before the plan's bar 1."""

    song: Song
    lead_bars: int = 0
    lead_seconds: Fraction = Fraction(0)
    count_in_bars: int = 0
    """How many of the last bars before the plan's bar 1 are counted in."""
    bars_before: int = 0
    """Added to the plan's bar numbers where a file tells bars."""

    @classmethod
    def of(cls, song: Song, *, count_in: int = 0, at_origin: bool = False) -> Frame:
        """Make the frame of ``song`` with ``count_in`` bars (0 or more), or at the host's own place.

        UsageError when the host has no room for count-in or pickup before the plan's bar 1.
        """
        pickup = 1 if song.plan.sections[0].pickup else 0
        if not at_origin:
            bare = cls(song=song, lead_bars=max(count_in, pickup), count_in_bars=count_in)
            return replace(bare, lead_seconds=-song.seconds(bare.zero))
        before = song.plan.origin.bar - 1
        if max(count_in, pickup) > before:
            what = f"count-in is {count_in} bar(s)" if count_in else "pickup lies in the bar before bar 1"
            raise UsageError(
                f"the {what}, but the plan's origin leaves {before} before it",
                hint="Give the plan an origin further into the host's time, or leave out --at-origin.",
            )
        return cls(
            song=song,
            lead_bars=before,
            lead_seconds=HostCount(song).seconds_before,
            count_in_bars=count_in,
            bars_before=before,
        )

    @property
    def lead(self) -> Length:
        """The length before the plan's bar 1."""
        return Place(0) - self.song.bars.start_of(1 - self.lead_bars)

    @property
    def zero(self) -> Place:
        """The place of the file's first instant."""
        return Place(0) - self.lead

    @property
    def total_seconds(self) -> Fraction:
        """Seconds from the file's first instant to the song's end."""
        return self.lead_seconds + self.song.total_seconds

    def seconds(self, place: Place) -> Fraction:
        """Return the file's seconds at ``place``.

        Bars before the plan's bar 1 take the seconds that the origin names, evenly, or
        have the first section's starting tempo.
        """
        if place >= Place(0) or not self.lead:
            return self.lead_seconds + self.song.seconds(place)
        return self.lead_seconds * ((place - self.zero) / self.lead).value

    def quarters(self, place: Place) -> Fraction:
        """Return the file's quarter notes at ``place``."""
        return (place - self.zero).quarters

    def bar_beat(self, place: Place) -> BarBeat:
        """Return bar and beat at ``place``, as the file tells them."""
        at = self.song.bars.bar_beat(place)
        return BarBeat(bar=at.bar + self.bars_before, beat=at.beat, plus=at.plus)

    def lead_in(self) -> Iterator[Bar]:
        """Walk through the bars before the plan's bar 1, in order; their numbers end at 0."""
        bars = self.song.bars
        return (bars.bar_at(bars.start_of(number)) for number in range(1 - self.lead_bars, 1))

    def remarks(self) -> Iterator[str]:
        """Say what a file's beginning leaves open: a bar for the pickup, a count-in not asked for."""
        first = self.song.plan.sections[0]
        if not self.bars_before and self.lead_bars > self.count_in_bars:
            yield "the song begins with a pickup: this begins one bar before the plan's bar 1"
        if first.count_in and not self.count_in_bars:
            yield f"the plan counts {Bars(first.count_in)} in: --count-in puts them before bar 1"

    def count_in(self) -> Iterator[Bar]:
        """Walk through the bars that are counted in."""
        return (bar for bar in self.lead_in() if bar.number > -self.count_in_bars)


def bars_counted_in(song: Song) -> int:
    """Return the bars counted in before bar 1 where that is asked for: as the plan says, else one."""
    return song.plan.sections[0].count_in or 1
