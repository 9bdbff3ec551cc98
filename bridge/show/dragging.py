"""A marker of ours that somebody drags in the host: what that would mean, at once.

It is told from what the host reports: a marker of a section that was seen where the plan
wants it, and then stands elsewhere.  The answer names the two nearest places at which the
layers of the section before are home, what each does to the song's length, and who would
be cut in mid-turn where the marker stands now.  This file knows nothing about sockets, and
moves nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.cues import Standing
from bridge.exact import Bars, Length, Place, show_mixed, show_seconds
from bridge.hostmap import HostMap, MarkerGone, MarkerHeard, Ruler
from bridge.plan import Plan
from bridge.song import PlacedSection, Song, unroll

__all__ = ["Choice", "Dragged", "Dragging"]

_IN_PLACE = Fraction(1, 1000)
"""Seconds within which a marker stands where the plan wants it, beside the step that it is told in."""
_FARTHEST = 512
"""Bars: a good place farther off is no help."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A place near the marker at which the section before it could end."""

    bars: int
    """Of the section before it."""
    host_bar: int
    """The host's bar that begins there."""
    seconds: Fraction
    """By how much the song grows (or, below 0, shrinks), all else as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dragged:
    """A marker that was dragged, and what can be done about it."""

    name: str
    at: str
    """Where it stands, in the host's bars and beats."""
    section: str
    """The section that would end there."""
    choices: tuple[Choice, ...] = ()
    """The nearest first; one of them may be where it stands."""
    cut: tuple[tuple[str, Fraction], ...] = ()
    """Who would be in mid-turn where it stands, and how much of the turn would have been played."""

    @property
    def is_home(self) -> bool:
        """Whether the section could end where the marker stands."""
        return not self.cut and bool(self.choices)

    def in_words(self) -> str:
        """Write it as one line for people."""
        places = [
            f"bar {one.host_bar} ({self.section} {Bars(one.bars)}, the song {_longer(one.seconds)})"
            for one in self.choices
        ]
        nearest = f"; home at {' or '.join(places)}" if places else ""
        cut = [f"{name} after {show_mixed(share)} of a turn" for name, share in self.cut]
        return f"{self.name} was dragged to {self.at}{'; cuts ' if cut else ''}{', '.join(cut)}{nearest}"


class Dragging:
    """Watches a host's markers for those of ``song`` that are dragged."""

    def __init__(self, song: Song, host: HostMap) -> None:
        self.song = song
        self._ruler = Ruler(song)
        heard = host.hears.get("marker")
        self._unit = None if heard is None else heard.unit
        self._wanted = {marker.name: marker for marker in song.markers if marker.index}
        self._seen: dict[tuple[object, str], Place] = {}
        """Markers of ours that stood in place, and where each was told to be last."""

    def hear(self, told: MarkerHeard | MarkerGone) -> Dragged | None:
        """Take what the host says of a marker; return what a drag of ours means."""
        if isinstance(told, MarkerGone):
            self._seen = {key: at for key, at in self._seen.items() if key[0] != told.id}
            return None
        marker = self._wanted.get(told.name)
        if marker is None or self._unit is None:
            return None
        key = (told.id, told.name)
        place = self._ruler.place(told.at.value, self._unit)
        if self._is_near(place, marker.place, told):
            self._seen[key] = marker.place
            return None
        before = self._seen.get(key)
        if before is None or self._is_near(place, before, told):
            return None
        self._seen[key] = place
        return self._answer(told.name, place)

    def _is_near(self, place: Place, other: Place, told: MarkerHeard) -> bool:
        assert self._unit is not None  # noqa: S101  looked at by the caller
        off = abs(self._ruler.value(place, self._unit) - self._ruler.value(other, self._unit))
        _, more = self._ruler.units_a_second(other, self._unit)
        return off <= max(told.at.step, _IN_PLACE * more)

    def _answer(self, name: str, place: Place) -> Dragged | None:
        """Say what it means that the marker stands at ``place``."""
        ends = self._section_before(name)
        if ends is None:
            return None
        told = Dragged(name=name, at=str(self._ruler.count.bar_beat(place)), section=ends.name)
        into = place - ends.start
        if into <= Length(0):
            return told
        return replace(told, choices=self._choices(ends, into), cut=tuple(self._cut(ends, into)))

    def _section_before(self, name: str) -> PlacedSection | None:
        """Return the section that ends at the marker; None for a stage of a tightening."""
        marker = self._wanted[name]
        sections = self.song.sections
        if marker.place == self.song.end and marker.section is None:
            return sections[-1]
        return None if marker.section is None else sections[marker.section - 1]

    def _cut(self, ends: PlacedSection, into: Length) -> Iterator[tuple[str, Fraction]]:
        for turner in Standing(self.song, ends.section.index).turners:
            if turner.sounds(into):
                phase = turner.stand(into).phase
                if phase:
                    yield turner.name, phase.limit_denominator(1000)

    def _choices(self, ends: PlacedSection, into: Length) -> tuple[Choice, ...]:
        meters = ends.section.meters
        stands = meters.bars_within(into)
        near = max(
            1, stands if into - meters.of_bars(stands) <= meters.of_bars(stands + 1) - into else stands + 1
        )
        low = self._good(ends, near, -1)
        high = self._good(ends, near, 1)
        found = {bars for bars in (low, high) if bars is not None}
        by_distance = sorted(found, key=lambda bars: abs(meters.of_bars(bars) - into).whole_notes)
        return tuple(self._choice(ends, bars) for bars in by_distance)

    def _good(self, ends: PlacedSection, near: int, step: int) -> int | None:
        """Return the good number of bars nearest to ``near``, itself included, going by ``step``."""
        run, before = _run_up_to(self.song, ends)
        for off in range(_FARTHEST):
            bars = near + step * off
            if bars < 1:
                return None
            if unroll(run, [*before, bars]).sections[-1].resolved:
                return bars
        return None

    def _choice(self, ends: PlacedSection, bars: int) -> Choice:
        index = ends.section.index
        counts = [placed.bars for placed in self.song.sections]
        changed = unroll(self.song.plan, [*counts[:index], bars, *counts[index + 1 :]])
        origin = self.song.plan.origin.bar
        return Choice(
            bars=bars,
            host_bar=ends.first_bar + bars + origin - 1,
            seconds=changed.total_seconds - self.song.total_seconds,
        )


def _run_up_to(song: Song, ends: PlacedSection) -> tuple[Plan, list[int]]:
    """Return the run of ``ends`` as a plan of its own that ends with it, and the bars before."""
    index = ends.section.index
    run = next(run for run in song.plan.runs if any(section.index == index for section in run))
    sections = [section for section in run if section.index <= index]
    own = tuple(
        replace(section, index=number, pays_off=None, same_length_as=None, runs_on=number < len(sections) - 1)
        for number, section in enumerate(sections)
    )
    bars = [song.sections[section.index].bars for section in sections[:-1]]
    return replace(song.plan, sections=own), bars


def _longer(seconds: Fraction) -> str:
    if not seconds:
        return "as long as now"
    return f"{show_seconds(abs(seconds))} {'longer' if seconds > 0 else 'shorter'}"
