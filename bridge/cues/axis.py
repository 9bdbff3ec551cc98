"""One section as it is played: its bars, beats and seconds, past its planned end as well.

Lengths count from the section's start.  Past its planned end a held section goes on in
its meters, at the tempo that it ended with; before its start a count-in has its first
meter's bars, at the tempo that it starts with.  This file knows nothing about layers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from bridge.exact import Length, Meter, Meters
from bridge.song import PlacedSection, Song

__all__ = ["Axis", "Bar"]

_NOTHING = Length(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A bar of the section: its number from 1 (0 and less in a count-in), where it starts, its meter."""

    number: int
    start: Length
    meter: Meter

    @property
    def end(self) -> Length:
        """The barline after it."""
        return self.start + self.meter.length

    def beats(self) -> Iterator[tuple[Length, int]]:
        """Walk through its counted beats: where each is, and its number from 1."""
        at = self.start
        for number, beat in enumerate(self.meter.counted, start=1):
            yield at, number
            at += beat


@dataclass(frozen=True)
class Axis:
    """The time of one section of a song."""

    song: Song
    index: int

    @cached_property
    def placed(self) -> PlacedSection:
        """The section where it stands in the song."""
        return self.song.sections[self.index]

    @property
    def length(self) -> Length:
        """Its planned length."""
        return self.placed.length

    def seconds(self, into: Length) -> Fraction:
        """Return the seconds from its start to ``into`` at the plan's tempo; negative before it."""
        tempo = self.placed.section.tempo
        if tempo.is_constant or into < _NOTHING:
            return into.whole_notes * 240 / tempo.start
        if into <= self.length:
            return self.song.seconds(self.placed.start + into) - self._began
        return self._lasts + (into - self.length).whole_notes * 240 / tempo.end

    def at(self, seconds: Fraction) -> Length:
        """Return how far into it ``seconds`` after its start is: the inverse of :meth:`seconds`."""
        tempo = self.placed.section.tempo
        if tempo.is_constant or seconds < 0:
            return Length(seconds * tempo.start / 240)
        if seconds <= self._lasts:
            return self.song.tempo_map.place(self._began + seconds) - self.placed.start
        return self.length + Length((seconds - self._lasts) * tempo.end / 240)

    def lasts(self, start: Length, end: Length, seconds: Fraction) -> bool:
        """Tell whether ``seconds`` or more lie between ``start`` and ``end``."""
        tempo = self.placed.section.tempo
        fastest = max(tempo.start, tempo.end)
        if (end - start).whole_notes * 240 >= seconds * fastest:
            return True
        return not tempo.is_constant and self.seconds(end) - self.seconds(start) >= seconds

    def bpm(self, into: Length) -> Fraction:
        """Return the plan's quarter notes a minute at ``into``."""
        tempo = self.placed.section.tempo
        share = (max(_NOTHING, min(into, self.length)) / self.length).value
        return tempo.at(share)

    def bar_at(self, into: Length) -> Bar:
        """Return the bar that ``into`` lies in; a barline belongs to the bar it begins."""
        return self.bar(self._meters.bars_within(into) + 1)

    def bar(self, number: int) -> Bar:
        """Return bar ``number`` of the section."""
        if number not in self._bars:
            start = self._meters.of_bars(number - 1)
            self._bars[number] = Bar(number=number, start=start, meter=self._meters.bar(number))
        return self._bars[number]

    def barline_at_or_after(self, into: Length) -> Length:
        """Return the first barline at ``into`` or later."""
        bar = self.bar_at(into)
        return bar.start if bar.start == into else bar.end

    def bars_until(self, into: Length, target: Length) -> int:
        """Count the bars up to ``target`` that are not over at ``into``, the one that is played included."""
        return max(0, self._bars_before(target) - self.bar_at(into).number + 1)

    def counted(self, into: Length) -> Fraction:
        """Return the counted beat at ``into``, from 1, with its share: 2.5 is half through the second."""
        bar = self.bar_at(into)
        left = into - bar.start
        for number, beat in enumerate(bar.meter.counted, start=1):
            if left < beat:
                return number + (left / beat).value
            left -= beat
        raise AssertionError("a place lies within its bar")

    def beats_between(self, start: Length, end: Length) -> Fraction:
        """Return the counted beats from ``start`` to ``end``, shares included."""
        return self._beats_before(end) - self._beats_before(start)

    def _beats_before(self, into: Length) -> Fraction:
        meters = self._meters
        passes, rest = divmod(meters.bars_within(into), len(meters.row))
        each = [len(meter.counted) for meter in meters.row]
        return passes * sum(each) + sum(each[:rest]) + self.counted(into) - 1

    def _bars_before(self, into: Length) -> int:
        """Count the bars that begin before ``into``."""
        bar = self.bar_at(into)
        return bar.number - 1 if bar.start == into else bar.number

    @cached_property
    def _bars(self) -> dict[int, Bar]:
        """The bars that were asked for: the same ones are asked for over and over."""
        return {}

    @property
    def _meters(self) -> Meters:
        return self.placed.section.meters

    @cached_property
    def _began(self) -> Fraction:
        return self.song.seconds(self.placed.start)

    @cached_property
    def _lasts(self) -> Fraction:
        return self.song.seconds(self.placed.end) - self._began
