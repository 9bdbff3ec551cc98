"""The solved song unrolled: the one list that lay, exporters, cues and stage work from.

Everything here is exact and derived from a plan and its bars.  This file knows
nothing about how the bars were found, nor about hosts, files or sound.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from operator import attrgetter

from bridge.craft.stages import written
from bridge.exact import Length, Place, Stretch, TempoMap
from bridge.plan.model import Plan, Section
from bridge.song.bars import Barlines
from bridge.song.part import Onset, Part

__all__ = ["END", "Marker", "Onset", "Part", "PlacedSection", "Song"]

_NOTHING = Length(0)
_SECONDS_AT_1 = 240
"""Of a whole note at one quarter note a minute."""
END = "End"
"""The name of the marker where the last landing falls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """A name at a place: a section's start, a stage of a tightening, the song's end."""

    name: str
    place: Place
    index: int
    """Its number in the song, from 0."""
    section: int | None
    """The section that begins there, if one does."""


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
        leaving = (part for part in self.parts if part.leaves and not part.is_home_at_end)
        return min((self.end, *(part.sounds_until for part in leaving)), key=attrgetter("whole_notes"))

    @property
    def last_bar(self) -> int:
        """The number of its last bar."""
        return self.first_bar + self.bars - 1

    def stages(self) -> Iterator[tuple[Place, str]]:
        """Walk through the stages of its tightening, if it has one: where each begins, and its name."""
        for part in self.parts:
            if part.tightened is not None:
                cycles = written(part.tightened.asked.cycles)
                for cycle, stage in zip(cycles, part.tightened.stages, strict=True):
                    yield part.tightens_at + stage.start, f"{part.layer.name} {cycle}"


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
        """A marker a section, one a stage of a tightening, and the End."""
        named: list[tuple[Place, str, int | None]] = []
        for index, placed in enumerate(self.sections):
            named.append((placed.start, placed.name, index))
            named += [(place, f"{placed.name}: {name}", None) for place, name in placed.stages()]
        named.append((self.end, END, None))
        return tuple(
            Marker(name=name, place=place, index=index, section=section)
            for index, (place, name, section) in enumerate(named)
        )

    def seconds(self, place: Place) -> Fraction:
        """Return the seconds from the plan's bar 1 to ``place``; what lies before it has the tempo there.

        Where the song begins with a free passage, which has none, that of the first section with one.
        """
        if place < Place(0):
            return place.whole_notes * _SECONDS_AT_1 / self.counting_bpm(Place(0))
        return self.tempo_map.seconds(place)

    def place_at(self, seconds: Fraction) -> Place:
        """Return the place at ``seconds`` from the plan's bar 1; the inverse of :meth:`seconds`."""
        if seconds < 0:
            return Place(seconds * self.counting_bpm(Place(0)) / _SECONDS_AT_1)
        return self.tempo_map.place(seconds)

    def counting_bpm(self, place: Place) -> Fraction:
        """Return the quarter notes a minute at which one counts in to ``place``.

        In a free passage those of the next section with bars; where there is none, those that stand for it.
        """
        for placed in self.sections:
            if placed.end > place and placed.section.free is None:
                return self.tempo_map.bpm(max(placed.start, place, key=attrgetter("whole_notes")))
        return self.tempo_map.bpm(place)

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
