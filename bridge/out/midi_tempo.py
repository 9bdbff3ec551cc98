"""The tempo map of a MIDI file: whole microseconds a quarter that never stray far.

Source: Standard MIDI File 1.0 (RP-001, 1996): tempo is 24 bits of microseconds a quarter.
A constant tempo is rounded, and changed by one microsecond at a barline where the sum of
what was rounded would pass :data:`DRIFT_US`.  A ramp becomes steps, so short that the
chord stays within :data:`CHORD_US` of the curve (error at most h²/8·max|t''|), each as
long as the curve is between its ends.  This file knows nothing about messages.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor, isqrt

from bridge.errors import UsageError
from bridge.exact import Length, Place, Stretch, ticks
from bridge.song import Frame

__all__ = ["CHORD_US", "DRIFT_US", "TempoTrack"]

DRIFT_US = Fraction(100)
CHORD_US = Fraction(100)
_SLOWEST_US = 2**24 - 1
_MINUTE_US = 60_000_000
_MADE_UP = Fraction(1, 1000)
"""At most this share of a step makes up for what was rounded before it: no audible jolt."""


@dataclass(slots=True)
class TempoTrack:
    """The tempo events of a song, and how far from the exact time they ever are."""

    frame: Frame
    per_quarter: int
    events: list[tuple[int, int]] = field(default_factory=list)
    """Tick and microseconds a quarter, in order."""
    worst_us: Fraction = Fraction(0)
    """The largest distance between the file's time and the exact one, in microseconds."""
    steps: int = 0
    """How many steps the ramps became."""
    _late: Fraction = Fraction(0)
    """How far the file is behind the exact time at the place reached, in microseconds."""

    @classmethod
    def of(cls, frame: Frame, per_quarter: int) -> TempoTrack:
        """Work out the events; UsageError for a tempo slower than the format can hold."""
        track = cls(frame, per_quarter)
        track._lead_in()
        for stretch in frame.song.tempo_map.stretches:
            if stretch.tempo.is_constant:
                track._constant(stretch)
            else:
                track._ramp(stretch)
        return track

    def _lead_in(self) -> None:
        lead = self.frame.lead
        if lead and self.frame.lead_seconds <= 0:
            raise UsageError(
                f"the plan's origin puts {self.frame.lead_bars} bars before its bar 1 into no time at all",
                hint="Give the origin its seconds, more than 0, or leave out --at-origin.",
            )
        if lead:
            exact = self.frame.lead_seconds * 1_000_000 / lead.quarters
            self._spend(self.frame.zero, lead, round(exact), exact)

    def _constant(self, stretch: Stretch) -> None:
        """Spend a constant tempo: the nearest whole number, or two in turn, changed at barlines."""
        exact = Fraction(_MINUTE_US) / stretch.tempo.start
        now, unit = round(exact), self._unit(stretch)
        place, left = stretch.start, stretch.length
        if abs(self._late + (now - exact) * left.quarters) <= DRIFT_US:
            unit = left
        while left:
            if abs(self._late + (now - exact) * unit.quarters) > DRIFT_US:
                now = floor(exact) if self._late > 0 else ceil(exact)
            length = min(unit * self._units(now - exact, unit), left, key=_whole_notes)
            self._spend(place, length, now, exact)
            place, left = place + length, left - length

    def _units(self, off: Fraction, unit: Length) -> int:
        """Return how many units, 1 or more, a tempo ``off`` by so much may go on within the bound."""
        each = off * unit.quarters
        if not each:
            return 1
        room = DRIFT_US - self._late if each > 0 else DRIFT_US + self._late
        return max(1, floor(room / abs(each)))

    def _unit(self, stretch: Stretch) -> Length:
        """Return what the tempo is kept for at least: one pass through the section's meters."""
        placed = self.frame.song.section_at(stretch.start)
        return placed.section.meters.length if placed else stretch.length

    def _ramp(self, stretch: Stretch) -> None:
        tempo_map, end = self.frame.song.tempo_map, stretch.start + stretch.length
        slope = abs(stretch.tempo.end - stretch.tempo.start) / stretch.length.quarters
        place, seconds = stretch.start, tempo_map.seconds(stretch.start)
        while place < end:
            length = min(self._step(tempo_map.bpm(place), slope), end - place, key=_whole_notes)
            after = tempo_map.seconds(place + length)
            exact = (after - seconds) * 1_000_000 / length.quarters
            slowest = min(tempo_map.bpm(place), _ending(stretch, place + length))
            chord = length.quarters**2 / 8 * _MINUTE_US * slope / slowest**2
            owed = self._late / length.quarters
            made_up = max(-exact * _MADE_UP, min(exact * _MADE_UP, owed))
            self._spend(place, length, round(exact - made_up), exact, chord=chord)
            place, seconds = place + length, after
            self.steps += 1

    def _step(self, bpm: Fraction, slope: Fraction) -> Length:
        """Return the longest step that stays near the curve: a quarter halved until it does, or one tick."""
        ticks_squared = 8 * CHORD_US * bpm**2 * self.per_quarter**2 / (_MINUTE_US * slope)
        allowed = isqrt(int(ticks_squared))
        step = self.per_quarter
        while step > allowed and step > 1:
            step = step // 2
        return Length(Fraction(step, 4 * self.per_quarter))

    def _spend(
        self, start: Place, length: Length, us: int, exact: Fraction, *, chord: Fraction = Fraction(0)
    ) -> None:
        if not 1 <= us <= _SLOWEST_US:
            raise UsageError(
                f"a MIDI file holds {_MINUTE_US / _SLOWEST_US:.4f} to {_MINUTE_US} quarter notes a minute, "
                f"not {float(_MINUTE_US / exact):.4f}",
                hint="Write the song in notes half as long at twice the tempo, or export another format.",
            )
        tick = ticks(start - self.frame.zero, self.per_quarter)
        if not self.events or self.events[-1][1] != us:
            self.events.append((tick, us))
        before, self._late = self._late, self._late + (us - exact) * length.quarters
        self.worst_us = max(self.worst_us, max(abs(before), abs(self._late)) + chord)


def _whole_notes(length: Length) -> Fraction:
    return length.whole_notes


def _ending(stretch: Stretch, place: Place) -> Fraction:
    return stretch.tempo.at((place - stretch.start).whole_notes / stretch.length.whole_notes)
