"""The solved song unrolled: the one list that lay, exporters, cues and stage work from.

Everything here is exact and derived from a plan and its bars.  This file knows
nothing about how the bars were found, nor about hosts, files or sound.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from heapq import merge
from operator import attrgetter

from bridge.cycles.layer import Layer
from bridge.exact import Length, Place, Stretch, TempoMap
from bridge.plan.model import Plan, Section
from bridge.song.bars import Barlines
from bridge.song.note_row import NoteRow

__all__ = ["END", "Marker", "Onset", "Part", "PlacedSection", "Song"]

_NOTHING = Length(0)
END = "End"
"""The name of the marker where the last landing falls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """A name at a place: a section's start, or the song's end (``section`` None)."""

    name: str
    place: Place
    index: int
    """Its number in the song, from 0."""
    section: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A layer sounding in one section; its cycle counts from ``entry``, where it came in.

    With a ``pickup`` it sounds already that long before ``start``, the end of a turn that
    would have begun earlier; with ``leaves`` it makes way that long before ``end``, for the
    pickup of its own next part.
    """

    layer: Layer
    section: int
    entry: Place
    start: Place
    end: Place
    pickup: Length = _NOTHING
    leaves: Length = _NOTHING

    @property
    def sounds_until(self) -> Place:
        """Where it leaves off: its section's end, or where the pickup of its next part begins."""
        return self.end - self.leaves

    @property
    def turns(self) -> Fraction:
        """The turns it plays in this section, counted from its first home."""
        return self.layer.turns(self.end - self.entry) - self.layer.turns(self.start - self.entry)

    def homes(self) -> Iterator[Place]:
        """Walk through the places in the section at which it is home, its end excluded."""
        return self.home_row.places()

    @property
    def home_row(self) -> NoteRow:
        """Its homes in the section as a row, whether or not it sounds on them."""
        return self._row(Length(0))

    def rows(self) -> tuple[NoteRow, ...]:
        """Return its notes in the section as rows: one for each accent of its cycle, in order.

        A turn begun in the section before reaches into this one.  A pickup's rows come last;
        where no note of the turn falls into it, one stands where it begins.
        """
        rows = tuple(self._row(accent) for accent in self.layer.accents)
        return (*rows, *self._pickup_rows()) if self.pickup else rows

    def onsets(self) -> Iterator[Onset]:
        """Walk through its notes in the section, in order: homes and accents within each turn."""
        return merge(*map(_onsets, self.rows()), key=attrgetter("place"))

    def _row(self, accent: Length) -> NoteRow:
        return NoteRow.between(
            self.layer.name,
            origin=self.entry + self.layer.start + accent / self.layer.rate,
            step=self.layer.turn,
            start=self.start,
            end=self.sounds_until,
            home=not accent,
        )

    def _pickup_rows(self) -> tuple[NoteRow, ...]:
        begin, turn = self.start - self.pickup, self.layer.turn
        earlier = self.entry - turn * -(-self.pickup // turn)
        rows = tuple(
            NoteRow.between(
                self.layer.name,
                origin=earlier + accent / self.layer.rate,
                step=turn,
                start=begin,
                end=self.start,
                home=not accent,
            )
            for accent in self.layer.accents
        )
        if any(row.count for row in rows):
            return rows
        return (NoteRow(layer=self.layer.name, first=begin, step=turn, count=1, home=False),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """One note of a layer; ``home`` where its cycle begins."""

    place: Place
    layer: str
    home: bool


def _onsets(row: NoteRow) -> Iterator[Onset]:
    return (Onset(place=place, layer=row.layer, home=row.home) for place in row.places())


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSection:
    """A section where it stands in the song."""

    section: Section
    start: Place
    length: Length
    first_bar: int
    bars: int
    parts: tuple[Part, ...]
    """Who sounds, in the order of the plan's layers."""
    resolved: bool
    """Every layer to be resolved is home at its end."""

    @property
    def name(self) -> str:
        """The section's name."""
        return self.section.name

    @property
    def end(self) -> Place:
        """The barline after its last bar: its landing."""
        return self.start + self.length

    @property
    def counts_until(self) -> Place:
        """Where the first of its parts leaves its count for that of the next section's pickup.

        Its end, where nobody does: one that is home at the end goes on in the same count.
        """
        leaving = (part for part in self.parts if not part.layer.is_home(part.end - part.entry))
        return min((self.end, *(part.sounds_until for part in leaving)), key=attrgetter("whole_notes"))

    @property
    def last_bar(self) -> int:
        """The number of its last bar."""
        return self.first_bar + self.bars - 1


@dataclass(frozen=True)
class Song:
    """A plan with its bars: every section, marker, barline, beat and note in place."""

    plan: Plan
    sections: tuple[PlacedSection, ...]

    @property
    def end(self) -> Place:
        """Where the last landing falls: the barline after the last bar."""
        return self.sections[-1].end

    @property
    def total_bars(self) -> int:
        """The number of bars."""
        return self.sections[-1].last_bar

    @property
    def total_seconds(self) -> Fraction:
        """The song's seconds, exact."""
        return self.tempo_map.total_seconds

    @cached_property
    def tempo_map(self) -> TempoMap:
        """Place to seconds and back; second 0 is the plan's bar 1."""
        return TempoMap(
            tuple(Stretch(start=s.start, length=s.length, tempo=s.section.tempo) for s in self.sections)
        )

    @cached_property
    def bars(self) -> Barlines:
        """The barlines."""
        rows = tuple((s.first_bar, s.start, s.section.meters) for s in self.sections)
        return Barlines(rows, self.total_bars)

    @cached_property
    def markers(self) -> tuple[Marker, ...]:
        """A marker a section, and the End."""
        starts = [Marker(name=s.name, place=s.start, index=i, section=i) for i, s in enumerate(self.sections)]
        return (*starts, Marker(name=END, place=self.end, index=len(starts), section=None))

    def seconds(self, place: Place) -> Fraction:
        """Return the seconds from the plan's bar 1 to ``place``."""
        return self.tempo_map.seconds(place)

    def section_at(self, place: Place) -> PlacedSection | None:
        """Return the section that ``place`` lies in; None before the song and from its end on."""
        for placed in self.sections:
            if placed.start <= place < placed.end:
                return placed
        return None

    def counted_beats(self) -> Iterator[tuple[Place, int]]:
        """Walk through the beats that players count: the place, and the beat in its bar from 1."""
        for bar in self.bars:
            place = bar.start
            for number, beat in enumerate(bar.meter.counted, start=1):
                yield place, number
                place += beat

    def sounding(self) -> Mapping[str, tuple[Part, ...]]:
        """Return each layer of the plan with its parts in playing order; none: always tacet."""
        parts: dict[str, list[Part]] = {name: [] for name in self.plan.layers}
        for placed in self.sections:
            for part in placed.parts:
                parts[part.layer.name].append(part)
        return {name: tuple(found) for name, found in parts.items()}
