"""One pass through a section: how it goes on, where it is left, and what comes then.

Lengths count from the section's start.  This file knows nothing about clocks or hosts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from bridge.cues import Axis, DueCue, Exits, Leads, Standing, section_cues
from bridge.exact import Length, Place
from bridge.song import END, PlacedSection, Song

__all__ = ["Pass", "Then"]

_NOTHING = Length(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Then:
    """Where the show goes when a section is left."""

    section: int
    into: Length = _NOTHING


@dataclass(frozen=True, kw_only=True)
class Pass:
    """A section that is being played."""

    song: Song
    index: int
    number: int
    """How many passes began before it."""
    began: Length = _NOTHING
    """Where in the section it began."""
    held: bool = False
    leaves: Length | None
    """A barline; None while it is held."""
    then: Then | None
    """None: the song ends."""
    leads: Leads

    @classmethod
    def of(cls, song: Song, index: int, *, number: int, began: Length = _NOTHING, leads: Leads) -> Pass:
        """Make a pass as the plan has it: a vamp is held from its start."""
        placed = song.sections[index]
        held = placed.section.vamp is not None
        return cls(
            song=song,
            index=index,
            number=number,
            began=began,
            held=held,
            leaves=None if held or placed.section.free is not None else placed.length,
            then=Then(section=index + 1) if index + 1 < len(song.sections) else None,
            leads=leads,
        )

    def timed(self) -> Pass:
        """Return a passage without bars as one that lasts as long as planned: nothing can be released."""
        return replace(self, leaves=self.placed.length)

    def in_song(self, song: Song) -> Pass:
        """Return the pass in another form of its song, its own end where it was."""
        then = self.then if self.then is None or self.then.section < len(song.sections) else None
        return replace(self, song=song, then=then)

    @cached_property
    def axis(self) -> Axis:
        """Its time."""
        return Axis(self.song, self.index)

    @cached_property
    def standing(self) -> Standing:
        """Its layers."""
        return Standing(self.song, self.index)

    @cached_property
    def exits(self) -> Exits:
        """The ways out of it."""
        return Exits(self.song, self.index)

    @cached_property
    def cues(self) -> tuple[DueCue, ...]:
        """What is due in it, as things stand."""
        follows = None if self.then is None else self.then.section
        return section_cues(self.song, self.index, leaves=self.leaves, follows=follows, leads=self.leads)

    def cues_in_bar(self, number: int) -> Sequence[DueCue]:
        """Return what is due in a bar of it, as things stand."""
        return self._by_bar.get(number, ())

    @cached_property
    def _by_bar(self) -> dict[int, list[DueCue]]:
        found: dict[int, list[DueCue]] = {}
        for cue in self.cues:
            found.setdefault(self.axis.bar_at(cue.into).number, []).append(cue)
        return found

    @property
    def placed(self) -> PlacedSection:
        """The section where it stands in the song."""
        return self.song.sections[self.index]

    @property
    def name(self) -> str:
        """Its section's name."""
        return self.placed.name

    @property
    def start(self) -> Place:
        """The place of its section's start."""
        return self.placed.start

    @property
    def is_free(self) -> bool:
        """Whether it has neither bars nor click."""
        return self.placed.section.free is not None

    @property
    def next_name(self) -> str:
        """What comes after it: a section's name, or End."""
        return END if self.then is None else self.song.sections[self.then.section].name

    @property
    def next_place(self) -> Place:
        """The place in the song at which it goes on after it."""
        if self.then is None:
            return self.song.end
        return self.song.sections[self.then.section].start + self.then.into

    @property
    def loops_by(self) -> Length | None:
        """How far a host goes back in a hold so that everybody stays in phase; None where it cannot."""
        return None if self.is_free else self.exits.loop
