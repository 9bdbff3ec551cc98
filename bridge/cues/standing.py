"""Where each layer stands in its cycle in a section as it is played, past its planned end as well.

Past the end of its section a layer goes on in its cycle, one that has tightened in its
last one.  Lengths count from the section's start.  Turns are counted within the section:
a turn that began before it is its first.  This file knows nothing about who is told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from bridge.cycles import Layer, meetings
from bridge.exact import Length, Ratio
from bridge.song import Gathering, Part, PlacedSection, Song, gathering_in

__all__ = ["Stand", "Standing", "Turner"]

_NOTHING = Length(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A layer at an instant."""

    turn: int
    """The turn that it plays, from 1; 0 before its first home."""
    phase: Fraction
    """Where in its cycle it stands, 0 up to but not including 1; 0 before its first home."""
    next_home: Length
    """Its next home after that instant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """A stretch of one cycle: homes at ``first + n * step`` from ``first`` on and before ``end``."""

    start: Length
    end: Length | None
    """None: it goes on."""
    first: Length
    step: Length

    def homes_up_to(self, into: Length) -> int:
        """Count its homes at ``into`` and before."""
        last = into if self.end is None else min(into, self.end)
        if last < self.first:
            return 0
        count = (last - self.first) // self.step + 1
        ends_on_home = self.end is not None and last == self.end and not (last - self.first) % self.step
        return count - ends_on_home

    def home_after(self, into: Length) -> Length | None:
        """Return its first home after ``into``; None where there is none."""
        at = (
            self.first
            if into < self.first
            else self.first + self.step * ((into - self.first) // self.step + 1)
        )
        return at if self.end is None or at < self.end else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Turner:
    """A layer that sounds in the section."""

    name: str
    player: str
    """Its player; its own name where the plan gives it none."""
    pieces: tuple[_Piece, ...]
    begun: Length | None
    """How far before the section's start the turn began that it comes in with; None where it is new."""
    until: Length | None
    """Where it falls silent for good within the section; None where it sounds to the end."""

    @classmethod
    def of(cls, part: Part, placed: PlacedSection) -> Turner:
        """Make the turner of ``part``; it goes on past the section's end where it sounds up to it."""
        goes_on = part.end == placed.end
        pieces = tuple(_pieces(part, placed))
        since = part.start - part.entry
        phase = part.layer.phase(since)
        return cls(
            name=part.layer.name,
            player=(part.given.player if part.given else None) or part.layer.name,
            pieces=pieces,
            begun=part.layer.turn * Ratio(phase) if phase else None,
            until=None if goes_on else part.end - placed.start,
        )

    @property
    def start(self) -> Length:
        """Where it comes in."""
        return self.pieces[0].start

    @property
    def turn(self) -> Length:
        """The length of a turn as it stands at the section's end, and past it."""
        return self.pieces[-1].step

    def sounds(self, into: Length) -> bool:
        """Tell whether it sounds at ``into``."""
        return into >= self.start and (self.until is None or into < self.until)

    def stand(self, into: Length) -> Stand:
        """Return where it stands at ``into``, at or after it came in."""
        began = self._home_up_to(into)
        turn = self.homes_up_to(into) + (self.begun is not None)
        after = self.home_after(into)
        if began is None:
            return Stand(turn=0, phase=Fraction(0), next_home=after)
        return Stand(turn=turn, phase=((into - began) / self._step_at(into)).value % 1, next_home=after)

    def turns_left(self, into: Length, leaves: Length) -> int:
        """Count the turns until ``leaves`` that are not over yet, the one that is played included."""
        end = leaves if self.until is None else min(leaves, self.until)
        if end <= into:
            return 0
        here = self.homes_up_to(into)
        between = self.homes_up_to(end) - here - (1 if self.is_home(end) else 0)
        return between + (1 if here or self.begun is not None else 0)

    def is_home(self, into: Length) -> bool:
        """Tell whether a turn begins at ``into``, or would, past its end."""
        piece = self._piece_at(into)
        return into >= piece.first and not (into - piece.first) % piece.step

    def homes(self, start: Length, end: Length) -> Iterator[Length]:
        """Walk through its homes from ``start`` on and before ``end``."""
        at = start if self.is_home(start) and self.sounds(start) else self.home_after(start)
        while at < end and self.sounds(at):
            yield at
            at = self.home_after(at)

    def homes_up_to(self, into: Length) -> int:
        """Count its homes in the section at ``into`` and before."""
        return sum(piece.homes_up_to(into) for piece in self.pieces)

    def home_after(self, into: Length) -> Length:
        """Return its next home after ``into``, sounding or not."""
        found = (piece.home_after(into) for piece in self.pieces)
        return next(home for home in found if home is not None)

    def _home_up_to(self, into: Length) -> Length | None:
        for piece in reversed(self.pieces):
            if piece.homes_up_to(into):
                last = into if piece.end is None or into < piece.end else piece.end
                back = (last - piece.first) % piece.step
                return last - (back or (piece.step if last == piece.end else _NOTHING))
        return None if self.begun is None else self.start - self.begun

    def _step_at(self, into: Length) -> Length:
        return self._piece_at(into).step

    def _piece_at(self, into: Length) -> _Piece:
        return next(piece for piece in self.pieces if piece.end is None or into < piece.end)


def _pieces(part: Part, placed: PlacedSection) -> Iterator[_Piece]:
    stretches = part.stretches
    ends: list[Length | None] = [after.start - placed.start for _, after in pairwise(stretches)]
    for stretch, end in zip(stretches, [*ends, None], strict=True):
        first = stretch.entry + stretch.layer.home_at_or_after(stretch.start - stretch.entry)
        yield _Piece(
            start=stretch.start - placed.start,
            end=end,
            first=first - placed.start,
            step=stretch.layer.turn,
        )


@dataclass(frozen=True)
class Standing:
    """All layers of one section."""

    song: Song
    index: int

    @cached_property
    def placed(self) -> PlacedSection:
        """The section where it stands in the song."""
        return self.song.sections[self.index]

    @cached_property
    def turners(self) -> tuple[Turner, ...]:
        """Who sounds in it, in the order of the plan's layers."""
        return tuple(Turner.of(part, self.placed) for part in self.placed.parts)

    @cached_property
    def gather(self) -> tuple[str, ...]:
        """Who is meant by 'all': the layers to be resolved that sound, or all where those are not two."""
        names = tuple(turner.name for turner in self.turners)
        asked = tuple(name for name in names if name in self.placed.section.resolve)
        return asked if len(asked) > 1 else names

    def meeting_after(self, into: Length, *, held: bool) -> Length | None:
        """Return the next meeting of all after ``into``, the landing included; None where there is none.

        While it is ``held``, the meetings go on past the planned end.
        """
        end = self.placed.length
        if into < end:
            within = self._within(into)
            if within is not None and within < end:
                return within
            if self._lands:
                return end
        if not held:
            return None
        return self._beyond(max(into, end))

    @cached_property
    def _lands(self) -> bool:
        """Whether all are home at the planned end."""
        asked = [turner for turner in self.turners if turner.name in self.gather]
        return len(asked) > 1 and all(
            turner.until is None and turner.is_home(self.placed.length) for turner in asked
        )

    @cached_property
    def _gathering(self) -> Gathering | None:
        return gathering_in(self.placed)

    def _within(self, into: Length) -> Length | None:
        found = self._gathering
        if found is None:
            return None
        place = next(found.between(self.placed.start + into, self.placed.end), None)
        if place is not None and place - self.placed.start == into:
            rest = found.between(place, self.placed.end)
            next(rest)
            place = next(rest, None)
        return None if place is None else place - self.placed.start

    def _beyond(self, into: Length) -> Length | None:
        """Return the first meeting after ``into``, which lies at the planned end or past it."""
        asked = [turner for turner in self.turners if turner.name in self.gather and turner.until is None]
        if len(asked) < 2:
            return None
        layers = [_as_layer(turner) for turner in asked]
        found = meetings(layers)
        if found is None:
            return None
        at = found.at_or_after(into)
        return at if at > into else at + found.every


def _as_layer(turner: Turner) -> Layer:
    """Return a layer that is home wherever ``turner`` is, past the section's planned end."""
    return Layer(name=turner.name, cycle=turner.turn, start=turner.pieces[-1].first)
