"""The plan's meters, tempi and regions as one host is to have them, laid by the rules of markers.

To the laying each is a marker: its name says the value ('4/4', '115.2 bpm', a section's
name), and the host map's words for its kind stand for those of markers.  So what is the
user's, what was lost on the way and what is verified is decided in one place only.

A ramp goes as the host bends it.  A host that is told a tempo's end (``bpm_end``) and
bends by position gets it as one; by time, beat by beat, between which the two curves
differ by less than a millionth; one that steps, or is told no end, gets for each beat
the tempo at which that beat lasts as long as in the plan, so that every beat falls on its
time.  This file knows nothing about sockets or the record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction

from bridge.exact import Length, Place
from bridge.hostmap import (
    Event,
    Heard,
    HostMap,
    MarkerEnd,
    MarkerHeard,
    MeterMarkHeard,
    Names,
    Number,
    Ramps,
    RegionHeard,
    Ruler,
    TempoMarkHeard,
)
from bridge.hostmap.template import END, Fact
from bridge.lay.record import Entry, State
from bridge.lay.wanted import Wanted, wanted_at
from bridge.song import PlacedSection, Song

__all__ = ["AFTER", "BEFORE", "Kind", "Part", "part"]

_QUARTER = Length(Fraction(1, 4))
_NEAR_TEMPO = Fraction(1, 10_000)
"""Quarters a minute: a tempo told nearer than this to the one wanted is that one."""


_COARSEST_TEMPO = Fraction(1, 100)
_UNTIL = " until "
_IN = " in #"


class Kind(StrEnum):
    """What beside markers a timeline holds."""

    METER = "meter"
    TEMPO = "tempo"
    REGION = "region"


BEFORE = (Kind.METER, Kind.TEMPO)
"""What is laid before the markers: where those are kept in seconds, they depend on it."""
AFTER = (Kind.REGION,)
_HEARD = {Kind.METER: "meter_mark", Kind.TEMPO: "tempo_mark", Kind.REGION: "region"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    name: str
    place: Place
    end: Place | None = None
    facts: Mapping[str, Fact] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Part:
    """One kind, ready to be laid as markers are."""

    kind: Kind
    host: HostMap
    """The host map, with the words for this kind in the place of those for markers."""
    wanted: tuple[Wanted, ...]
    near: Fraction
    """How far off an end may be told, in the host's unit."""

    def heard(self, event: Event, entries: Iterable[Entry]) -> Event | None:
        """Return what ``event`` says of this kind, as of a marker; None where it is about others.

        ``entries`` are those of the record as last written: what was laid under a name that
        the host cannot tell, as the end of a ramp, has it from there.
        """
        if isinstance(event, MarkerEnd):
            return event
        if isinstance(event, MeterMarkHeard) and self.kind is Kind.METER:
            return MarkerHeard(event.id, f"{event.top}/{event.bottom}", event.at)
        if isinstance(event, TempoMarkHeard) and self.kind is Kind.TEMPO:
            near = max(_NEAR_TEMPO, min(event.bpm.step, _COARSEST_TEMPO))
            name = self._known(event.at, entries, lambda name: _is_tempo(name, event.bpm.value, near))
            return MarkerHeard(event.id, name or f"{float(event.bpm.value):.9g} bpm", event.at)
        if isinstance(event, RegionHeard) and self.kind is Kind.REGION:
            end, near = None, Fraction(0)
            if event.end is not None:
                end, near = event.end.value, max(self.near, event.end.step)
            told = _region_name(event.name, end, event.colour)
            name = self._known(event.at, entries, lambda name: _is_region(name, told, near))
            return MarkerHeard(event.id, name or told, event.at)
        return None

    def _known(self, at: Number, entries: Iterable[Entry], fits: Callable[[str], bool]) -> str | None:
        """Return the name under which it was asked for, laid, or is wanted there."""
        ordered = sorted(entries, key=lambda entry: entry.state is not State.ASKED)
        places: tuple[Entry | Wanted, ...] = (*ordered, *self.wanted)
        return next((one.name for one in places if one.stands_at(at) and fits(one.name)), None)


def part(kind: Kind, ruler: Ruler, host: HostMap) -> Part | str | None:
    """Return what of ``kind`` the host is to have; None where its map has no word for it.

    A text where that word cannot be used: why.
    """
    said = host.says.get(kind)
    if said is None:
        return None
    fields = [one for message in said for one in message.fields]
    names = {one.name for one in fields}
    if not any(one.unit is not None or one.name == "bar" for one in fields):
        return f"'says.{kind}' of the host map names no place: the plan's {kind}s are not laid"
    if "id" in names:
        return f"'says.{kind}' of the host map uses the field 'id': the plan's {kind}s are not laid"
    if kind is Kind.REGION and not any(name.startswith(END) for name in names):
        return "'says.region' of the host map says no end, as {end_seconds:f} does: no regions are laid"
    like = _like_markers(kind, host)
    unit = like.hears["marker"].unit if "marker" in like.hears else None
    tells = like.hears["marker"].args if "marker" in like.hears else {}
    coloured = "colour" in tells and "colour" in names

    def named(one: _Item) -> str:
        end = ruler.value(one.end, unit) if unit is not None and "end" in tells and one.end else None
        return _region_name(one.name, end, ruler.colour(one.place) if coloured else None)

    wanted = tuple(
        wanted_at(
            ruler,
            said,
            unit,
            name=named(one),
            place=one.place,
            index=i,
            facts={"name": one.name, **one.facts},
            end=one.end,
        )
        for i, one in enumerate(_ITEMS[kind](ruler.song, host, names))
    )
    return Part(kind, like, wanted, max((one.cap for one in wanted), default=Fraction(0)))


def _region_name(name: str, end: Fraction | None, colour: int | None) -> str:
    """Return a name that says what a host tells of a region beside its start, as far as it tells it."""
    until = "" if end is None else f"{_UNTIL}{float(end):.9g}"
    return name + until + ("" if colour is None else f"{_IN}{colour:06x}")


def _is_region(name: str, told: str, near: Fraction) -> bool:
    """Whether two regions have one name and colour, and ends no farther apart than ``near``."""
    if name == told:
        return True
    (one, until, end), (other, told_until, told_end) = name.rpartition(_UNTIL), told.rpartition(_UNTIL)
    if not (until and told_until) or one != other:
        return False
    (end, _, colour), (told_end, _, told_colour) = end.partition(_IN), told_end.partition(_IN)
    return colour == told_colour and _are_near(end, float(told_end), near)


def _is_tempo(name: str, bpm: Fraction, near: Fraction) -> bool:
    """Whether a tempo is the one that a name begins with."""
    return _are_near(name.split(" ", maxsplit=1)[0], float(bpm), near)


def _are_near(text: str, value: float, near: Fraction) -> bool:
    try:
        return abs(float(text) - value) <= near
    except ValueError:
        return False


def _like_markers(kind: Kind, host: HostMap) -> HostMap:
    """Return the map with this kind's words under the names of those for markers."""
    heard = host.hears.get(_HEARD[kind])
    hears: dict[str, Heard] = {}
    if heard is not None and "list" in host.says:
        hears = {"marker": heard}
        if "marker_end" in host.hears:
            hears["marker_end"] = host.hears["marker_end"]
    says = {"place": host.says[kind]}
    if f"{kind}_remove" in host.says:
        says["remove"] = host.says[f"{kind}_remove"]
    if "list" in host.says:
        says["list"] = host.says["list"]
    return replace(host, name=f"{host.name} {kind}", hears=hears, says=says, names=Names.MANY)


def _meters(song: Song, host: HostMap, names: set[str]) -> Iterator[_Item]:  # noqa: ARG001  one shape for all
    """Walk through the bars at which the meter changes."""
    before = None
    for bar in song.bars:
        shown = f"{bar.meter.top}/{bar.meter.unit}"
        if shown != before:
            yield _Item(name=shown, place=bar.start)
        before = shown


def _tempi(song: Song, host: HostMap, names: set[str]) -> Iterator[_Item]:
    """Walk through the places at which the host has to be told a tempo."""
    before: Fraction | None = None
    for placed in song.sections:
        tempo = placed.section.tempo
        if tempo.is_constant:
            if tempo.start != before:
                yield _tempo(placed.start, _constant_until(song, placed), tempo.start, tempo.start)
            before = tempo.end
            continue
        told_end = "bpm_end" in names
        if told_end and host.ramps is Ramps.POSITION:
            yield _tempo(placed.start, placed.end, tempo.start, tempo.end)
        else:
            yield from _by_beats(song, placed, bends=told_end and host.ramps is Ramps.TIME)
        before = None


def _constant_until(song: Song, first: PlacedSection) -> Place:
    """Return where the tempo of a section changes next."""
    end = first.end
    for placed in song.sections:
        if placed.start == end and placed.section.tempo == first.section.tempo:
            end = placed.end
    return end


def _by_beats(song: Song, placed: PlacedSection, *, bends: bool) -> Iterator[_Item]:
    place = placed.start
    while place < placed.end:
        end = min(placed.end, place + _QUARTER, key=lambda one: one.whole_notes)
        first, last = song.tempo_map.bpm(place), _bpm_before(placed, end)
        if not bends:
            seconds = song.seconds(end) - song.seconds(place)
            first = last = (end - place).whole_notes * 240 / seconds
        yield _tempo(place, end, first, last)
        place = end


def _bpm_before(placed: PlacedSection, place: Place) -> Fraction:
    """Return the tempo that a section's ramp has reached at ``place``, its end included."""
    return placed.section.tempo.at(((place - placed.start) / placed.length).value)


def _tempo(place: Place, end: Place, first: Fraction, last: Fraction) -> _Item:
    ramp = "" if first == last else f" to {float(last):.9g}"
    facts: dict[str, Fact] = {"bpm": first, "bpm_end": last}
    return _Item(name=f"{float(first):.9g}{ramp} bpm", place=place, end=end, facts=facts)


def _regions(song: Song, host: HostMap, names: set[str]) -> Iterator[_Item]:  # noqa: ARG001  as above
    """Return a region a section."""
    for one in song.sections:
        yield _Item(name=one.name, place=one.start, end=one.end)


_ITEMS = {Kind.METER: _meters, Kind.TEMPO: _tempi, Kind.REGION: _regions}
