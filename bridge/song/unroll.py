"""From a plan and a number of bars for each section to the unrolled song.

A section's pickup is played by the layers whose turns begin on its first barline, in the
count that begins there; one that sounds in the section before leaves that section's count
where the pickup begins.  This file knows nothing about how the bars were chosen: it tells
of each section whether its layers are home at its end, it does not demand it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from bridge.exact import Length, Place
from bridge.plan.model import Entry, Plan, Section, Stay
from bridge.song.model import Part, PlacedSection, Song

__all__ = ["unroll"]

_NOTHING = Length(0)
_WHOLLY = Stay()


def unroll(plan: Plan, bars: Sequence[int]) -> Song:
    """Place every section of ``plan``, given the ``bars`` of each (1 or more, in order)."""
    if len(bars) != len(plan.sections) or min(bars) < 1:
        raise ValueError(f"{len(plan.sections)} sections need as many numbers of bars, 1 or more: {bars}")
    if plan.tempo_range is not None:
        raise ValueError(f"the tempo is still open, {plan.tempo_range}: choose one with Plan.at_tempo")
    placed: list[PlacedSection] = []
    place, first_bar = Place(0), 1
    for run in plan.runs:
        starts: dict[int, Place] = {}
        for section, counting in zip(run, plan.counting(run), strict=True):
            starts[section.index] = place
            entered = {
                name: (entry, starts[entry.section.index] + entry.enters) for name, entry in counting.items()
            }
            count = bars[section.index]
            placed.append(_place(section, count, start=place, first_bar=first_bar, entered=entered))
            place, first_bar = placed[-1].end, first_bar + count
    pickups = any(section.pickup for section in plan.sections)
    return Song(plan, tuple(_with_pickups(placed) if pickups else placed))


def _with_pickups(sections: Sequence[PlacedSection]) -> Iterator[PlacedSection]:
    """Give the parts that play a pickup its length, and those that make way for it."""
    for index, placed in enumerate(sections):
        pickup = placed.section.pickup
        after = sections[index + 1] if index + 1 < len(sections) else None
        way = {} if after is None else dict.fromkeys(_picking_up(after), after.section.pickup)
        mine = dict.fromkeys(_picking_up(placed), pickup)
        parts = tuple(
            replace(
                part,
                pickup=mine.get(part.layer.name, _NOTHING),
                leaves=max(_NOTHING, way.get(part.layer.name, _NOTHING) - (placed.end - part.end)),
            )
            for part in placed.parts
        )
        yield replace(placed, parts=parts)


def _picking_up(placed: PlacedSection) -> list[str]:
    """Name the layers that begin a turn on the section's first barline."""
    return [part.layer.name for part in placed.parts if part.entry == placed.start and not part.layer.start]


def _place(
    section: Section,
    bars: int,
    *,
    start: Place,
    first_bar: int,
    entered: Mapping[str, tuple[Entry, Place]],
) -> PlacedSection:
    length = section.meters.of_bars(bars)
    end = start + length
    parts = tuple(_part(section, *entered[name], start=start, end=end) for name in section.layers)
    tight = {
        part.layer.name: part.tightened is not None and part.is_home_at_end
        for part in parts
        if section.tighten is not None and part.layer.name == section.tighten.layer
    }
    return PlacedSection(
        section=section,
        start=start,
        length=length,
        first_bar=first_bar,
        bars=bars,
        parts=parts,
        resolved=all(
            tight[name] if name in tight else entered[name][0].layer.is_home(end - entered[name][1])
            for name in section.resolve
        ),
    )


def _part(section: Section, entry: Entry, came_in: Place, *, start: Place, end: Place) -> Part:
    """Make the part of a layer whose time counts from ``came_in``."""
    stay = section.stays.get(entry.layer.name, _WHOLLY)
    tighten = section.tighten
    found = tighten.found if tighten is not None and tighten.layer == entry.layer.name else None
    begins = start if stay.enters is None else _earlier(start + stay.enters, end)
    ends = end if stay.leaves is None else _earlier(start + stay.leaves, end)
    return Part(
        layer=entry.layer,
        section=section.index,
        entry=came_in,
        start=begins,
        end=ends,
        given=entry.given,
        tightened=found if found is not None and end - begins >= found.length else None,
    )


def _earlier(one: Place, other: Place) -> Place:
    return min(one, other, key=lambda place: place.whole_notes)
