"""The host's own count: the plan's places seen from where the plan stands in the host.

The plan's bar 1 falls on the host's bar ``origin.bar``.  The bars before it have the
first section's meters and its starting tempo, unless the origin names its seconds.
This file knows nothing about OSC or units of ticks and samples.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.exact import Length, Place
from bridge.song.bars import BarBeat
from bridge.song.model import Song

__all__ = ["HostCount"]


@dataclass(frozen=True, slots=True)
class HostCount:
    """How the host counts the song's places: in quarters, seconds and bars of its own."""

    song: Song

    @property
    def lead_in(self) -> Length:
        """The length of the host's bars before the plan's bar 1."""
        first = self.song.plan.sections[0]
        return -first.meters.of_bars(1 - self.song.plan.origin.bar)

    @property
    def seconds_before(self) -> Fraction:
        """The host's seconds at the plan's bar 1."""
        named = self.song.plan.origin.seconds
        if named is not None:
            return named
        return -self.song.seconds(Place(0) - self.lead_in)

    def whole_notes(self, place: Place) -> Fraction:
        """Return the host's whole notes at ``place``."""
        return (place.since_start + self.lead_in).whole_notes

    def seconds(self, place: Place) -> Fraction:
        """Return the host's seconds at ``place``."""
        return self.song.seconds(place) + self.seconds_before

    def bar_beat(self, place: Place) -> BarBeat:
        """Return the host's bar and beat at ``place``."""
        at = self.song.bars.bar_beat(place)
        return BarBeat(bar=at.bar + self.song.plan.origin.bar - 1, beat=at.beat, plus=at.plus)

    def bars(self, place: Place) -> Fraction:
        """Return the host's bars at ``place``, from 1; what follows the barline is a share of the bar."""
        bar = self.song.bars.bar_at(place)
        share = (place - bar.start) / bar.meter.length
        return bar.number + self.song.plan.origin.bar - 1 + share.value

    def place_of_whole_notes(self, whole_notes: Fraction) -> Place:
        """Return the plan's place at the host's ``whole_notes``."""
        return Place(whole_notes) - self.lead_in

    def place_of_seconds(self, seconds: Fraction) -> Place:
        """Return the plan's place at the host's ``seconds``."""
        return self.song.place_at(seconds - self.seconds_before)

    def place_of_bars(self, bars: Fraction) -> Place:
        """Return the plan's place at the host's ``bars``, counted from 1."""
        number = int(bars // 1)
        start = self.song.bars.start_of(number - self.song.plan.origin.bar + 1)
        return start + Length((bars - number) * self.song.bars.bar_at(start).meter.length.whole_notes)
