"""Who sounds when: the song's notes, beats and meetings as hits at exact samples.

A voice never overlaps itself: a hit ends where the next of the same voice begins.  So
the sum of the voices' peaks bounds the mix.  This file knows nothing about files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain

from bridge.exact import Place, samples, samples_along
from bridge.out.guide.sounds import CLICK, DOWNBEAT, LANDING, LAST, MEETING, Sound, layer_sound, struck
from bridge.out.voicing import note_number
from bridge.song import Frame, NoteRow, Part, counted_rows, full_meetings, landings

__all__ = ["Hit", "Voice", "voices_of"]

Hit = tuple[int, str]
"""A sample and which of the voice's sounds begins there."""
Span = tuple[int, int]

_CLICK_PITCH, _BELL_PITCH = 1200.0, 1046.5
_LEVELS = {
    "click": 0.5,
    "downbeat": 0.7,
    "home": 1.0,
    "note": 0.55,
    "meeting": 0.6,
    "landing": 0.8,
    "last": 0.9,
}
_BELLS = {"meeting": MEETING, "landing": LANDING, "last": LAST}
_WIDEST = 0.85


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """One voice of the guide: its sounds by name, its place from left (-1) to right (1), its hits."""

    name: str
    sounds: Mapping[str, Sound]
    pan: float
    hits: Iterable[Hit]
    """In rising order; iterated once."""
    spans: tuple[Span, ...]
    """The samples between which it is ever heard; they may overlap."""

    @property
    def peak(self) -> float:
        """The highest of its sounds."""
        return max(float(abs(sound).max()) for sound in self.sounds.values())


def voices_of(frame: Frame, per_second: int) -> list[Voice]:
    """Return the click, a voice for each layer that ever sounds, and the bell of the meetings."""
    clock = _Clock(frame, per_second)
    found = [_click(clock)]
    sounding = {name: parts for name, parts in frame.song.sounding().items() if parts}
    for number, (name, parts) in enumerate(sounding.items()):
        pan = _WIDEST * (2 * number / (len(sounding) - 1) - 1) if len(sounding) > 1 else 0.0
        found.append(_layer(clock, name, parts, pan))
    return [*found, _bell(clock)]


@dataclass(frozen=True, slots=True)
class _Clock:
    """From places to samples of the file."""

    frame: Frame
    per_second: int

    def at(self, place: Place) -> int:
        return samples(self.frame.seconds(place), self.per_second)

    def along(self, row: NoteRow, *, home: str, other: str) -> list[Hit]:
        if not row.count:
            return []
        found = samples_along(
            self.frame.song.tempo_map,
            row.first,
            row.step,
            row.count,
            rate=Fraction(self.per_second),
            before=self.frame.lead_seconds,
        )
        sound = home if row.home else other
        return [(sample, sound) for sample in found]


def _click(clock: _Clock) -> Voice:
    frame, rate = clock.frame, clock.per_second
    sections = (
        _in_order(clock.along(row, home="downbeat", other="click") for row in counted_rows(placed))
        for placed in frame.song.sections
    )
    end = [(clock.at(frame.song.end), "downbeat")]
    return Voice(
        name="click",
        sounds={
            "click": _LEVELS["click"] * struck(CLICK, _CLICK_PITCH, per_second=rate),
            "downbeat": _LEVELS["downbeat"] * struck(DOWNBEAT, _CLICK_PITCH, per_second=rate),
        },
        pan=0.0,
        hits=chain(_count_in(clock), chain.from_iterable(sections), end),
        spans=((0, clock.at(frame.song.end) + rate),),
    )


def _count_in(clock: _Clock) -> Iterator[Hit]:
    for bar in clock.frame.count_in():
        place = bar.start
        for beat in bar.meter.counted:
            yield clock.at(place), "downbeat" if place == bar.start else "click"
            place += beat


def _layer(clock: _Clock, name: str, parts: tuple[Part, ...], pan: float) -> Voice:
    index = list(clock.frame.song.plan.layers).index(name)
    note = note_number(index)
    sections = (
        _in_order(clock.along(row, home="home", other="note") for row in part.rows()) for part in parts
    )
    sounds = {
        kind: _LEVELS[kind] * layer_sound(index, note, home=kind == "home", per_second=clock.per_second)
        for kind in ("home", "note")
    }
    landing = list(_landing(clock, name))
    rings = max(map(len, sounds.values()))
    return Voice(
        name=name,
        sounds=sounds,
        pan=pan,
        hits=chain(chain.from_iterable(sections), landing),
        spans=(
            *((clock.at(part.start), clock.at(part.end) + rings) for part in parts),
            *((at, at + rings) for at, _ in landing),
        ),
    )


def _landing(clock: _Clock, name: str) -> Iterator[Hit]:
    """Sound the last landing: the song's end, where the layer was to come home and did."""
    last = clock.frame.song.sections[-1]
    if last.resolved and name in last.section.resolve:
        yield clock.at(last.end), "home"


def _bell(clock: _Clock) -> Voice:
    """Ring at every full meeting, longer at a landing, longest at the last; one bell a place."""
    song = clock.frame.song
    rung = {meeting.place: "meeting" for meeting in full_meetings(song)}
    rung |= {meeting.place: "landing" for meeting in landings(song)}
    if rung.get(song.end):
        rung[song.end] = "last"
    hits = sorted((clock.at(place), sound) for place, sound in rung.items())
    sounds = {
        kind: _LEVELS[kind] * struck(timbre, _BELL_PITCH, per_second=clock.per_second)
        for kind, timbre in _BELLS.items()
    }
    return Voice(
        name="meetings",
        sounds=sounds,
        pan=0.0,
        hits=hits,
        spans=tuple((at, at + len(sounds[sound])) for at, sound in hits),
    )


def _in_order(rows: Iterable[list[Hit]]) -> list[Hit]:
    """Merge rows; of several hits on one sample, keep a home rather than a note."""
    ranked = sorted((sample, sound != "home", sound) for row in rows for sample, sound in row)
    first = {sample: sound for sample, _, sound in reversed(ranked)}
    return list(reversed(first.items()))
