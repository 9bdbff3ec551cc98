"""Bars and beats of a solved song: from a place to ``13.3+1/16`` and back.

A beat here is the meter's lower-number note, as in the places of the contract.  Bars
count from 1 at the song's start; the bars before it (0, -1 ...) have the meters of the
first section, those after its end the meters of the last.  This file knows nothing
about tempo.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from bridge.errors import PlanError
from bridge.exact import Length, Meter, Meters, Place, parse_number, parse_whole

__all__ = ["Bar", "BarBeat", "Barlines"]

_NOTHING = Length(0)
_BAR_BEAT = re.compile(r"(-?[0-9]+)(?:\.([0-9]+))?(?:\s*\+\s*([0-9]+(?:/[0-9]+)?))?", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class BarBeat:
    """A place as musicians write it: bar, beat within it, and what lies beyond the beat."""

    bar: int
    beat: int = 1
    plus: Length = _NOTHING

    @classmethod
    def parse(cls, text: str) -> BarBeat:
        """Read ``13``, ``13.1`` or ``13.3+1/16``; PlanError for anything else."""
        match = _BAR_BEAT.fullmatch(text.strip())
        if match is None:
            raise PlanError(
                f"a place cannot be {text[:40]!r}", hint="Write bar.beat, as in 13.1 or 13.3+1/16."
            )
        bar, beat, plus = match.groups()
        return cls(
            bar=-parse_whole(bar[1:]) if bar.startswith("-") else parse_whole(bar),
            beat=parse_whole(beat, what="a beat", least=1) if beat else 1,
            plus=Length(parse_number(plus)) if plus else Length(0),
        )

    def __str__(self) -> str:
        return f"{self.bar}.{self.beat}" + (f"+{self.plus}" if self.plus else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar of the song: its number from 1, where it starts, its meter."""

    number: int
    start: Place
    meter: Meter

    def beats(self) -> Iterator[tuple[Place, bool]]:
        """Walk through the beats that players count in it, each with whether the bar begins there."""
        place = self.start
        for beat in self.meter.counted:
            yield place, place == self.start
            place += beat


@dataclass(frozen=True)
class Barlines:
    """The barlines of a song: per section its first bar, its start and its meters."""

    sections: tuple[tuple[int, Place, Meters], ...]
    count: int
    """How many bars the song has."""

    def start_of(self, bar: int) -> Place:
        """Return the place of the barline that begins ``bar``."""
        first, start, meters = self.sections[max(0, bisect_right(self._firsts, bar) - 1)]
        return start + meters.of_bars(bar - first)

    def bar_at(self, place: Place) -> Bar:
        """Return the bar that ``place`` lies in; a barline belongs to the bar it begins."""
        first, start, meters = self.sections[max(0, bisect_right(self._places, place) - 1)]
        into = meters.bars_within(place - start)
        return Bar(number=first + into, start=start + meters.of_bars(into), meter=meters.bar(into + 1))

    def bar_beat(self, place: Place) -> BarBeat:
        """Return ``place`` as bar, beat and rest."""
        bar = self.bar_at(place)
        into = place - bar.start
        return BarBeat(bar=bar.number, beat=into // bar.meter.beat + 1, plus=into % bar.meter.beat)

    def place(self, at: BarBeat) -> Place:
        """Return the place of ``at``; PlanError when its bar has no such beat."""
        start = self.start_of(at.bar)
        meter = self.bar_at(start).meter
        if at.beat > meter.top:
            raise PlanError(f"bar {at.bar} is in {meter}: it has no beat {at.beat}")
        return start + meter.beat * (at.beat - 1) + at.plus

    def __iter__(self) -> Iterator[Bar]:
        """Walk through the bars of the song in order."""
        for index, (first, start, meters) in enumerate(self.sections):
            last = self._firsts[index + 1] if index + 1 < len(self.sections) else self.count + 1
            place = start
            for number in range(first, last):
                meter = meters.bar(number - first + 1)
                yield Bar(number=number, start=place, meter=meter)
                place += meter.length

    @cached_property
    def _firsts(self) -> tuple[int, ...]:
        return tuple(first for first, _, _ in self.sections)

    @cached_property
    def _places(self) -> tuple[Place, ...]:
        return tuple(start for _, start, _ in self.sections)
