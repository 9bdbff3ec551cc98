"""One take of the guide: which places are heard at which samples, pass after pass.

A take is the whole song as a frame places it, or an excerpt played several times, with
a count-in before the first.  Every pass is placed from the exact seconds, so that no
rounding adds up.  This file knows nothing about sounds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import UsageError
from bridge.exact import Length, Place, samples, samples_along
from bridge.out.guide.options import GuideOptions
from bridge.song import Frame, NoteRow, Song, place_named

__all__ = ["Beat", "Pass", "Take"]

Beat = tuple[int, bool]
"""A sample, and whether a bar begins there."""
_MOST_TIMES = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """One time through: ``shift`` seconds are added to the song's; places from ``begin`` to ``end``."""

    song: Song
    rate: Fraction
    shift: Fraction
    begin: Place
    end: Place
    last: bool
    """What falls on its end is heard in the last pass only; in the others the next one begins there."""

    def holds(self, place: Place) -> bool:
        """Tell whether ``place`` is heard in this pass."""
        return self.begin <= place < self.end or (self.last and place == self.end)

    def sample(self, place: Place) -> int:
        """Return the sample of ``place``."""
        return samples(self.shift + self.song.seconds(place), self.rate)

    def along(self, row: NoteRow) -> list[int]:
        """Return the samples of the notes of ``row`` that are heard; from bar 1 on, its pickup too."""
        begin = row.first if self.begin == Place(0) else self.begin
        skipped = max(0, -(-(begin - row.first).whole_notes // row.step.whole_notes))
        first = row.first + row.step * skipped
        room = (self.end - first).whole_notes / row.step.whole_notes
        within = room.__floor__() + 1 if self.last else room.__ceil__()
        count = max(0, min(row.count - skipped, within))
        if not count:
            return []
        return samples_along(self.song.tempo_map, first, row.step, count, rate=self.rate, before=self.shift)


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """What the guide plays: ``times`` passes from ``begin`` to ``end`` after ``lead`` seconds."""

    frame: Frame
    per_second: int
    begin: Place
    end: Place
    times: int
    rate: Fraction
    """Samples a second of the song's own time: more than ``per_second`` where it is slowed down."""
    lead: Fraction
    counted: int
    """Bars counted in before the first pass."""

    @classmethod
    def of(cls, frame: Frame, options: GuideOptions, per_second: int) -> Take:
        """Make the take that ``options`` ask for; UsageError where they ask for nothing at all."""
        song = frame.song
        begin = place_named(song, options.begin) if options.begin is not None else Place(0)
        end = place_named(song, options.stop) if options.stop is not None else song.end
        if begin >= end:
            raise UsageError(
                f"the guide would go from bar {song.bars.bar_beat(begin)} to bar {song.bars.bar_beat(end)}",
                hint="--to names a place after --from: a section's name is its first barline.",
            )
        if not 1 <= options.times <= _MOST_TIMES:
            raise UsageError(f"--times is 1 to {_MOST_TIMES}, not {options.times}")
        counted = _counted_before(frame, begin)
        lead = frame.lead_seconds if begin == Place(0) else _bar_before(song, begin) * counted
        return cls(
            frame=frame,
            per_second=per_second,
            begin=begin,
            end=end,
            times=options.times,
            rate=per_second / options.speed,
            lead=lead,
            counted=counted,
        )

    @property
    def end_sample(self) -> int:
        """The sample at which the last pass ends."""
        return list(self.passes())[-1].sample(self.end)

    def passes(self) -> Iterator[Pass]:
        """Walk through the passes in order."""
        song = self.frame.song
        start = song.seconds(self.begin)
        lasts = song.seconds(self.end) - start
        for number in range(self.times):
            shift = self.lead - start + number * lasts
            last = number == self.times - 1
            yield Pass(song=song, rate=self.rate, shift=shift, begin=self.begin, end=self.end, last=last)

    def count_in(self) -> Iterator[Beat]:
        """Walk through the beats that are counted in before the first pass."""
        if self.begin == Place(0):
            for bar in self.frame.count_in():
                for place, first in _beats(bar.start, bar.meter.counted):
                    yield samples(self.frame.seconds(place), self.rate), first
            return
        song = self.frame.song
        per_whole_note = 240 / song.counting_bpm(self.begin)
        beats = list(_beats(Place(0), song.bars.bar_at(self.begin).meter.counted))
        for number in range(self.counted):
            before = number * _bar_before(song, self.begin)
            for place, first in beats:
                yield samples(before + place.whole_notes * per_whole_note, self.rate), first


def _counted_before(frame: Frame, begin: Place) -> int:
    """Return the bars to count in where asked for: as the section that begins there says, else one."""
    if begin == Place(0) or not frame.count_in_bars:
        return frame.count_in_bars
    asked = [placed.section.count_in for placed in frame.song.sections if placed.start == begin]
    return max([1, *asked])


def _bar_before(song: Song, place: Place) -> Fraction:
    """Return the seconds of a bar counted in before ``place``, in the meter and tempo that begin there."""
    return song.bars.bar_at(place).meter.length.whole_notes * 240 / song.counting_bpm(place)


def _beats(start: Place, counted: tuple[Length, ...]) -> Iterator[tuple[Place, bool]]:
    place = start
    for beat in counted:
        yield place, place == start
        place += beat
