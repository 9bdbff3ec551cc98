"""A layer sounding in one section: its turns, its homes, its notes.

This file knows nothing about other sections, tempo or sound.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from heapq import merge
from itertools import chain
from operator import attrgetter

from bridge.craft.stages import Stage, Tightened
from bridge.cycles.layer import Kind, Layer
from bridge.exact import Length, Place, Ratio
from bridge.plan.layer_plan import LayerPlan
from bridge.song.note_row import NoteRow

__all__ = ["Onset", "Part"]

_NOTHING = Length(0)
_AT = attrgetter("whole_notes")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A layer sounding in one section; its cycle counts from ``entry``, where it came in.

    With a ``pickup`` it sounds already that long before ``start``, the end of a turn that
    would have begun earlier; with ``leaves`` it makes way that long before ``end``, for the
    pickup of its own next part.  One that has ``tightened`` shortens its cycle towards
    ``end``, turn by turn: what is told of its ``layer`` alone holds before that.
    """

    layer: Layer
    section: int
    entry: Place
    start: Place
    end: Place
    given: LayerPlan | None = None
    """The layer as the plan gives it for this section; None where there is no plan."""
    tightened: Tightened | None = None
    pickup: Length = _NOTHING
    leaves: Length = _NOTHING

    @property
    def sounds_until(self) -> Place:
        """Where it leaves off: at its end, or where the pickup of its next part begins."""
        return self.end - self.leaves

    @property
    def tightens_at(self) -> Place:
        """Where its tightening begins; its end where it has none."""
        return self.end - self.tightened.length if self.tightened else self.end

    @property
    def stretches(self) -> tuple[Part, ...]:
        """The part in pieces of one cycle each: what comes before its tightening, then every stage."""
        if self.tightened is None:
            return (self,)
        begin = self.tightens_at
        before = [] if begin <= self.start else [replace(self, end=begin, tightened=None)]
        pieces = [*before, *(self._stage(stage, begin) for stage in self.tightened.stages)]
        return tuple(
            replace(
                piece,
                pickup=self.pickup if number == 0 else _NOTHING,
                leaves=max(_NOTHING, piece.end - self.sounds_until),
            )
            for number, piece in enumerate(pieces)
        )

    @property
    def turns(self) -> Fraction:
        """The turns it plays in this section, counted from its first home, those of a tightening included."""
        tight = sum(stage.turns for stage in self.tightened.stages) if self.tightened else 0
        return self.own_turns + tight

    @property
    def own_turns(self) -> Fraction:
        """The turns of its own cycle that it plays in this section, before any tightening."""
        until = max(self.start, self.tightens_at, key=_AT)
        return self.layer.turns(until - self.entry) - self.layer.turns(self.start - self.entry)

    @property
    def is_home_at_end(self) -> bool:
        """Whether a turn ends where it does; a tightening does so if it began on a home."""
        begin = self.tightens_at
        return begin >= self.start and self.layer.is_home(begin - self.entry)

    def is_home(self, place: Place) -> bool:
        """Tell whether a turn begins at ``place``, which lies in it, its end excluded."""
        for stretch in self.stretches:
            if stretch.start <= place < stretch.end:
                return stretch.layer.is_home(place - stretch.entry)
        return False

    def homes(self) -> Iterator[Place]:
        """Walk through the places in the section at which it is home, its end excluded."""
        return chain.from_iterable(stretch.home_row.places() for stretch in self.stretches)

    @property
    def home_row(self) -> NoteRow:
        """Its homes in its own cycle as a row, whether or not it sounds on them."""
        return self._row(_NOTHING)

    def rows(self) -> tuple[NoteRow, ...]:
        """Return its notes in the section as rows: one for each accent of its cycle, in order.

        A turn begun in the section before reaches into this one.  A pickup's rows come last;
        where no note of the turn falls into it, one stands where it begins.
        """
        if self.tightened is not None:
            return tuple(row for stretch in self.stretches for row in stretch.rows())
        rows = tuple(self._row(accent) for accent in self.layer.accents)
        return (*rows, *self._pickup_rows()) if self.pickup else rows

    def onsets(self) -> Iterator[Onset]:
        """Walk through its notes in the section, in order: homes and accents within each turn."""
        return merge(*map(_onsets, self.rows()), key=attrgetter("place"))

    def _stage(self, stage: Stage, begin: Place) -> Part:
        plain = {"cycle": stage.cycle, "start": _NOTHING, "rate": Ratio(1), "kind": Kind.CYCLE}
        given = self.given and replace(self.given, **plain, groups=(), pulses=0, pattern=None)  # type: ignore[arg-type]
        return replace(
            self,
            layer=Layer(name=self.layer.name, cycle=stage.cycle),
            given=given,
            entry=begin + stage.start,
            start=begin + stage.start,
            end=begin + stage.end,
            tightened=None,
        )

    def _row(self, accent: Length) -> NoteRow:
        return NoteRow.between(
            self.layer.name,
            origin=self.entry + self.layer.start + accent / self.layer.rate,
            step=self.layer.turn,
            start=self.start,
            end=min(self.sounds_until, self.tightens_at, key=_AT),
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
