"""A leg: a pass through a section as the bridge's own clock plays it, exact to the last step.

Its seconds are counted from one instant, never added up tick by tick, so that an hour does
not drift.  Past its planned end a held section shows receivers the place that it would
have shown one loop earlier.  This file knows nothing about messages.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from bridge.cues import Axis, Exits
from bridge.exact import Length, Place
from bridge.exact.convert import seconds_per_whole_note
from bridge.show.passing import Pass
from bridge.show.tempo_line import TempoLine
from bridge.song import HostCount, Song

__all__ = ["SAME_INSTANT", "Leg", "Stretch"]

_NOTHING = Length(0)
SAME_INSTANT = Fraction(1, 10**6)
"""Seconds: two instants nearer than this are one; a conductor's own are doubles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What a leg plays without a jump, from ``start`` on; what it shows lies ``back`` from there."""

    start: Length
    end: Length | None
    """Where the place jumps back; None: it does not."""
    back: Length


@dataclass(frozen=True, kw_only=True)
class Leg:
    """A section played once.  Lengths count from its start; ValueError where they are out of order."""

    song: Song
    index: int
    began: Fraction
    """Steady seconds at which the section's start lies, played or not."""
    sounds_from: Length = _NOTHING
    """Where it begins to be heard: before ``enters`` where it is counted in."""
    enters: Length = _NOTHING
    """Where the place begins to move."""
    leaves: Length | None
    """None while that is open."""
    follows: int | None
    """The section that comes then; None where nothing does."""
    follows_at: Length = _NOTHING
    """Where in that section it goes on."""
    located: bool = False
    """The show jumps to it, not as planned: receivers that play are sent there too."""

    def __post_init__(self) -> None:
        if not self.sounds_from <= self.enters or (self.leaves is not None and self.leaves < self.enters):
            raise ValueError(
                f"a leg sounds from {self.sounds_from}, enters at {self.enters} and leaves at {self.leaves}"
            )

    @cached_property
    def axis(self) -> Axis:
        """Its section's time."""
        return Axis(self.song, self.index)

    @cached_property
    def count(self) -> HostCount:
        """How receivers count the song's places."""
        return HostCount(self.song)

    @cached_property
    def loop(self) -> Length:
        """How far the place that is shown goes back at the planned end.

        The shortest stretch that brings everybody back in phase; where the section is
        too short for one, all of it.
        """
        return Exits(self.song, self.index).loop or self.axis.length

    @property
    def is_free(self) -> bool:
        """Whether it has neither bars nor click, so that no clock can run."""
        return self.axis.placed.section.free is not None

    @cached_property
    def starts_at(self) -> Fraction:
        """Steady seconds of ``sounds_from``."""
        return self.at(self.sounds_from)

    @cached_property
    def ends_at(self) -> Fraction | None:
        """Steady seconds at which it is left; None while that is open."""
        return None if self.leaves is None else self.at(self.leaves)

    def at(self, into: Length) -> Fraction:
        """Return the steady seconds of ``into``."""
        if self._a_whole_note is not None:
            return self.began + into.whole_notes * self._a_whole_note
        return self.began + self.axis.seconds(into)

    @cached_property
    def _a_whole_note(self) -> Fraction | None:
        """The seconds of a whole note, where all have the same: a shorter way for many ticks."""
        tempo = self.axis.placed.section.tempo
        return seconds_per_whole_note(tempo) if tempo.is_constant else None

    def place(self, into: Length, back: Length = _NOTHING) -> Place:
        """Return the place in the song at ``into``, so far ``back``."""
        return self.axis.placed.start + into - back

    def stretches(self) -> Iterator[Stretch]:
        """Walk through its stretches, without an end: it may be held for ever."""
        start, end, back = self.enters, self.axis.length, _NOTHING
        if self.is_free:
            yield Stretch(start=start, end=None, back=back)
            return
        while True:
            if start < end:
                yield Stretch(start=start, end=end, back=back)
            start, end, back = max(start, end), end + self.loop, back + self.loop

    def last_back(self) -> Length:
        """Return how far back the place stands that is shown where it is left; it leaves somewhere."""
        beyond = (self.leaves or _NOTHING) - self.axis.length
        return _NOTHING if beyond <= _NOTHING else self.loop * -(-beyond // self.loop)

    @classmethod
    def of(cls, passed: Pass, line: TempoLine) -> Leg:
        """Make the leg of a conductor's pass that goes along ``line``, its own."""
        then = passed.then
        return cls(
            song=passed.song,
            index=passed.index,
            began=Fraction(line.at) - passed.axis.seconds(line.into),
            sounds_from=line.into,
            enters=max(_NOTHING, line.into),
            leaves=passed.leaves,
            follows=then.section if then is not None else None,
            follows_at=then.into if then is not None else _NOTHING,
        )

    def following(self, at: Fraction) -> Leg | None:
        """Return the leg that follows it at ``at``, open where the plan has it so; None: nothing does."""
        if self.follows is None:
            return None
        placed = self.song.sections[self.follows]
        is_open = placed.section.vamp is not None or placed.section.free is not None
        return Leg(
            song=self.song,
            index=self.follows,
            began=at - Axis(self.song, self.follows).seconds(self.follows_at),
            sounds_from=self.follows_at,
            enters=self.follows_at,
            leaves=None if is_open else placed.length,
            follows=self.follows + 1 if self.follows + 1 < len(self.song.sections) else None,
            located=bool(self.follows_at) or self.follows != self.index + 1,
        )

    def is_same(self, other: Leg) -> bool:
        """Tell whether ``other`` is this one, perhaps with another end."""
        return other.index == self.index and abs(other.began - self.began) <= SAME_INSTANT

    def ends_as(self, other: Leg) -> bool:
        """Tell whether ``other`` is left where this one is, for the same place."""
        mine = (self.leaves, self.follows, self.follows_at)
        return mine == (other.leaves, other.follows, other.follows_at)

    def ending_as(self, other: Leg) -> Leg:
        """Return it with the end of ``other``."""
        return replace(
            self, song=other.song, leaves=other.leaves, follows=other.follows, follows_at=other.follows_at
        )

    def goes_on_from(self, end: Fraction | None) -> bool:
        """Tell whether it begins where the one before ended, at ``end``, without a count-in."""
        return (
            end is not None
            and not self.located
            and not self.is_free
            and self.sounds_from == self.enters
            and abs(self.starts_at - end) <= SAME_INSTANT
        )
