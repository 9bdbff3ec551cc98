"""A solved song as the readings see it: seconds, energy, who plays, low passages, runs.

Energy goes evenly, in seconds, from point to point as the plan gives it; under a tempo
ramp the points stand evenly in bars.  A general pause is silence: it has no energy of
its own, and it ends a stretch.  Who plays in a free passage plays there, without turns.  This
file knows nothing about rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import combinations, groupby, pairwise
from operator import attrgetter

from bridge.form.rules import HIGH, LOW
from bridge.plan.model import Plan, Section
from bridge.song import PlacedSection, Song, asked_cues, unroll

__all__ = ["Passage", "Piece", "Score", "Spell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """The energy between two points of a section; in one with a single point, the whole section."""

    section: int
    start: Fraction
    end: Fraction
    """Seconds from the song's start."""
    low: Fraction
    high: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """Sections in a row, each by its index."""

    sections: tuple[int, ...]
    start: Fraction
    end: Fraction

    @property
    def seconds(self) -> Fraction:
        """How long it lasts."""
        return self.end - self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A stretch of one section, in seconds, in which the same layers sound throughout."""

    section: int
    start: Fraction
    end: Fraction
    layers: tuple[str, ...]
    tightens: bool = False
    """Whether one of them shortens its cycle in it."""

    @property
    def seconds(self) -> Fraction:
        """How long it lasts."""
        return self.end - self.start


def _playing(section: Section) -> tuple[str, ...]:
    return section.layers if section.free is None else section.free.layers


class Score:
    """One solved song, with what several readings ask about it, each worked out once."""

    def __init__(self, song: Song) -> None:
        self.song = song
        self.plan = song.plan
        self.sections = song.sections

    @classmethod
    def of(cls, plan: Plan, bars: tuple[int, ...]) -> Score:
        """Make the score of ``plan`` with the ``bars`` of each section."""
        return cls(unroll(plan, bars))

    @cached_property
    def seconds(self) -> Fraction:
        """How long the song lasts."""
        return self.song.total_seconds

    @cached_property
    def starts(self) -> tuple[Fraction, ...]:
        """Each section's start in seconds, and the song's end."""
        return (*(self.song.seconds(place.start) for place in self.sections), self.seconds)

    def lasts(self, index: int) -> Fraction:
        """Return how many seconds a section lasts."""
        return self.starts[index + 1] - self.starts[index]

    def passage(self, sections: tuple[int, ...]) -> Passage:
        """Return sections in a row as a passage."""
        return Passage(sections=sections, start=self.starts[sections[0]], end=self.starts[sections[-1] + 1])

    def name(self, index: int) -> str:
        """Return a section's name."""
        return self.sections[index].name

    def names(self, sections: tuple[int, ...]) -> str:
        """Return one name, two, or the first and the last."""
        if len(sections) < 3:
            return " and ".join(map(self.name, sections))
        return f"{self.name(sections[0])} to {self.name(sections[-1])}"

    @cached_property
    def sounding(self) -> tuple[int, ...]:
        """The sections in which anybody sounds."""
        return tuple(place.section.index for place in self.sections if _playing(place.section))

    @cached_property
    def silent(self) -> frozenset[int]:
        """The general pauses."""
        return frozenset(range(len(self.sections))) - set(self.sounding)

    def energy(self, index: int) -> tuple[Fraction, ...]:
        """Return a section's energy as the plan gives it; empty where it says nothing."""
        return self.plan.sections[index].energy

    @cached_property
    def unknown(self) -> tuple[int, ...]:
        """The sections that sound and whose energy the plan does not give."""
        return tuple(index for index in self.sounding if not self.energy(index))

    @cached_property
    def known(self) -> tuple[int, ...]:
        """The sections that sound and whose energy the plan gives."""
        return tuple(index for index in self.sounding if self.energy(index))

    def pieces(self, index: int) -> Iterator[Piece]:
        """Walk through the energy of a section, point to point."""
        points, placed = self.energy(index), self.sections[index]
        if len(points) == 1:
            points *= 2
        steps = len(points) - 1
        at = [self._within(placed, step, steps) for step in range(steps + 1)]
        for (start, end), (one, other) in zip(pairwise(at), pairwise(points), strict=True):
            yield Piece(section=index, start=start, end=end, low=min(one, other), high=max(one, other))

    def _within(self, placed: PlacedSection, step: int, steps: int) -> Fraction:
        if step == steps:
            return self.starts[placed.section.index + 1]
        return self.song.seconds(placed.start + placed.length * step / steps)

    def is_low(self, index: int) -> bool:
        """Tell whether a section is known to stay low throughout."""
        return index not in self.silent and bool(self.energy(index)) and max(self.energy(index)) <= LOW

    def is_high(self, index: int) -> bool:
        """Tell whether a section is known to reach the heights of a payoff."""
        return index not in self.silent and bool(self.energy(index)) and max(self.energy(index)) >= HIGH

    @cached_property
    def low_passages(self) -> tuple[Passage, ...]:
        """The low sections in rows, as long as they go; a general pause between two belongs to them."""
        rows: list[list[int]] = []
        last = None
        for index in self.sounding:
            if self.is_low(index):
                if last is not None and self.is_low(last) and rows:
                    rows[-1].append(index)
                else:
                    rows.append([index])
            last = index
        return tuple(self.passage(tuple(range(row[0], row[-1] + 1))) for row in rows)

    def is_ending(self, passage: Passage) -> bool:
        """Tell whether nobody sounds after ``passage``."""
        return not any(index > passage.sections[-1] for index in self.sounding)

    @cached_property
    def runs(self) -> tuple[tuple[int, ...], ...]:
        """The sections grouped into runs."""
        return tuple(tuple(section.index for section in run) for run in self.plan.runs)

    @cached_property
    def built(self) -> frozenset[int]:
        """The sections that a later one pays off."""
        links = [section.pays_off for section in self.plan.sections]
        return frozenset(index for link in links if link for index in link.sections)

    @cached_property
    def spells(self) -> tuple[Spell, ...]:
        """The song in spells: a section each, or more where a layer enters, leaves or tightens within it."""
        return tuple(spell for placed in self.sections for spell in self._spells(placed))

    def _spells(self, placed: PlacedSection) -> Iterator[Spell]:
        free = placed.section.free
        if free is not None:
            yield Spell(
                section=placed.section.index,
                start=self.song.seconds(placed.start),
                end=self.song.seconds(placed.end),
                layers=free.layers,
            )
            return
        inner = (at for part in placed.parts for at in (part.start, part.tightens_at, part.end))
        edges = {placed.start, placed.end, *inner}
        for start, end in pairwise(sorted(edges, key=lambda place: place.whole_notes)):
            yield Spell(
                section=placed.section.index,
                start=self.song.seconds(start),
                end=self.song.seconds(end),
                layers=tuple(
                    part.layer.name for part in placed.parts if part.start <= start and part.end >= end
                ),
                tightens=any(part.tightened and part.tightens_at <= start for part in placed.parts),
            )

    def instruments(self, layers: Iterable[str]) -> frozenset[tuple[str, str]]:
        """Return who plays these layers; see :meth:`instrument`."""
        return frozenset(map(self.instrument, layers))

    def instrument(self, name: str) -> tuple[str, str]:
        """Return who plays a layer: its player; without one it is an instrument of its own."""
        player = self.plan.layers[name].player
        return ("layer", name) if player is None else ("player", player)

    @cached_property
    def used(self) -> frozenset[str]:
        """The layers that sound anywhere."""
        return frozenset(name for section in self.plan.sections for name in _playing(section))

    @cached_property
    def said(self) -> tuple[Fraction, ...]:
        """The seconds at which the plan's own cues say something."""
        return tuple(
            self.song.seconds(asked.place) for asked in asked_cues(self.song) if asked.cue.say is not None
        )

    @cached_property
    def new(self) -> tuple[int, ...]:
        """How many layers and pairings of two layers each section brings for the first time."""
        heard: set[tuple[str, ...]] = set()
        counts = []
        for _, spells in groupby(self.spells, key=attrgetter("section")):
            here = {pair for spell in spells for size in (1, 2) for pair in combinations(spell.layers, size)}
            counts.append(len(here - heard))
            heard |= here
        return tuple(counts)

    def rows(self, indices: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """Group rising indices into rows without gaps."""
        numbered = enumerate(indices)
        for _, row in groupby(numbered, key=lambda pair: pair[1] - pair[0]):
            yield tuple(index for _, index in row)
