"""The plan's own cues in the solved song: the exact place of each, or why it falls nowhere.

Bars and beats away from an anchor are counted by the song's barlines, as far behind each as
the anchor stands behind its own; a beat is the lower-number note of the anchor's bar.  In a
free passage there is no beat: what stands in its end is counted as the section that follows
is, at that one's tempo.  This file knows nothing about how a cue is sent, shown or heard.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from operator import attrgetter

from bridge.errors import Where
from bridge.exact import Bars, Length, Place, Ratio
from bridge.plan.cue import Anchor, Beats, CueAt, PlanCue
from bridge.song.bars import Bar
from bridge.song.meetings import landing_of, meetings_in
from bridge.song.model import PlacedSection, Song

__all__ = ["AskedCue", "LostCue", "asked_cues", "asked_in", "lost_cues"]

_AT = attrgetter("place.whole_notes")


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedCue:
    """A cue of the plan and where it falls."""

    place: Place
    anchor: Place
    """What its place is told from."""
    into: Length
    """How far into its section it stands, in that one's own bars and tempo; negative before its start."""
    section: int
    """The section it is told from; it may stand before that section's start."""
    cue: PlanCue


@dataclass(frozen=True, slots=True, kw_only=True)
class LostCue:
    """A cue of the plan that falls nowhere in this solution."""

    section: int
    cue: PlanCue
    why: str
    where: Where | None = None
    """Where it stands in the plan file."""

    def __str__(self) -> str:
        return f"the cue at {str(self.cue.at)!r} falls nowhere: {self.why}"


def asked_cues(song: Song) -> tuple[AskedCue, ...]:
    """Return the plan's cues that have a place, in the order of their places, equals as in the file."""
    found = (one for one in _all(song) if isinstance(one, AskedCue))
    return tuple(sorted(found, key=_AT))


def asked_in(song: Song, index: int) -> tuple[AskedCue, ...]:
    """Return the cues of section ``index`` that have a place, in the file's order."""
    return tuple(one for one in _of(song, song.sections[index]) if isinstance(one, AskedCue))


def lost_cues(song: Song) -> tuple[LostCue, ...]:
    """Return the plan's cues that have none, in the file's order."""
    return tuple(one for one in _all(song) if isinstance(one, LostCue))


def _all(song: Song) -> Iterator[AskedCue | LostCue]:
    for placed in song.sections:
        yield from _of(song, placed)


def _of(song: Song, placed: PlacedSection) -> Iterator[AskedCue | LostCue]:
    index = placed.section.index
    for cue in placed.section.cues:
        anchor = _anchor(song, placed, cue.at)
        if isinstance(anchor, str):
            yield LostCue(section=index, cue=cue, why=anchor, where=cue.where)
            continue
        into = _into(song, placed, anchor, cue.at)
        place = _place(song, placed, into)
        if isinstance(place, str):
            yield LostCue(section=index, cue=cue, why=place, where=cue.where)
        else:
            yield AskedCue(place=place, anchor=anchor, into=into, section=index, cue=cue)


def _before(song: Song, placed: PlacedSection) -> PlacedSection | None:
    return song.sections[placed.section.index - 1] if placed.section.index else None


def _place(song: Song, placed: PlacedSection, into: Length) -> Place | str:
    """Return the place that far into the section, or in words why a cue cannot stand there."""
    before = _before(song, placed)
    if before is not None and before.section.free is not None and into < Length(0):
        into *= Ratio(before.section.tempo.end / placed.section.tempo.start)
    place = placed.start + into
    if place < (before or placed).start:
        return f"that is before {before.name} begins" if before else "that is before the song begins"
    return f"that is after {placed.name}" if place > placed.end else place


def _anchor(song: Song, placed: PlacedSection, at: CueAt) -> Place | str:
    if at.anchor is Anchor.START:
        return placed.start
    if at.anchor is Anchor.END:
        return placed.end
    return _bar(song, placed, at) if at.anchor is Anchor.BAR else _meeting(placed, at.number)


def _bar(song: Song, placed: PlacedSection, at: CueAt) -> Place | str:
    if at.number > placed.bars:
        return f"{placed.name} has {Bars(placed.bars)}"
    start = song.bars.start_of(placed.first_bar + at.number - 1)
    meter = song.bars.bar_at(start).meter
    if at.beat > meter.top:
        return f"bar {at.number} of {placed.name} is in {meter} and has no beat {at.beat}"
    return start + meter.beat * (at.beat - 1)


def _meeting(placed: PlacedSection, number: int) -> Place | str:
    """Return the place of a full meeting after the section's start; its landing is the last."""
    count = 0
    for meeting in meetings_in(placed):
        if meeting.place > placed.start:
            count += 1
            if count == number:
                return meeting.place
    if landing_of(placed) is not None:
        count += 1
        if count == number:
            return placed.end
    found = f"{count} full meeting{'' if count == 1 else 's'}" if count else "no full meeting"
    return f"{placed.name} has {found} after its start"


def _into(song: Song, placed: PlacedSection, anchor: Place, at: CueAt) -> Length:
    """Return how far into the section ``at`` stands, told from ``anchor``."""
    sign = -1 if at.before else 1
    if isinstance(at.away, Bars):
        bar = song.bars.bar_at(anchor)
        return _bars_in(song, placed, bar.number + sign * at.away.count) + (anchor - bar.start)
    if isinstance(at.away, Beats):
        return anchor - placed.start + _own_bar(song, placed, anchor).meter.beat * (sign * at.away.count)
    return anchor - placed.start + (at.away or Length(0)) * sign


def _bars_in(song: Song, placed: PlacedSection, number: int) -> Length:
    """Return how far into the section a bar of the song begins: its own, where a free passage goes before."""
    before = _before(song, placed)
    if before is not None and before.section.free is not None and number < placed.first_bar:
        return placed.section.meters.of_bars(number - placed.first_bar)
    return song.bars.start_of(number) - placed.start


def _own_bar(song: Song, placed: PlacedSection, anchor: Place) -> Bar:
    """Return the bar of the section that the anchor belongs to: at its end, its last."""
    if anchor < placed.end:
        return song.bars.bar_at(anchor)
    return song.bars.bar_at(song.bars.start_of(placed.last_bar))
