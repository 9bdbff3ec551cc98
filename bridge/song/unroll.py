"""From a plan and a number of bars for each section to the unrolled song.

A section's pickup is played by the layers whose turns begin on its first barline, in the
count that begins there; one that sounds in the section before leaves that section's count
where the pickup begins.  This file knows nothing about how the bars were chosen: it tells
of each section whether its layers are home at its end, it does not demand it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from bridge.cycles.layer import Layer
from bridge.exact import Length, Place
from bridge.plan.model import Plan, Section
from bridge.song.model import Part, PlacedSection, Song

__all__ = ["unroll"]

_NOTHING = Length(0)


def unroll(plan: Plan, bars: Sequence[int]) -> Song:
    """Place every section of ``plan``, given the ``bars`` of each (1 or more, in order)."""
    if len(bars) != len(plan.sections) or min(bars) < 1:
        raise ValueError(f"{len(plan.sections)} sections need as many numbers of bars, 1 or more: {bars}")
    placed: list[PlacedSection] = []
    place, first_bar, index = Place(0), 1, 0
    for run in plan.runs:
        fixed = plan.entries(run)
        entries: dict[str, Place] = {}
        for section in run:
            for name in section.layers:
                entries.setdefault(name, place)
            sounded = {name: (fixed[name][1], entry) for name, entry in entries.items()}
            placed.append(_place(section, bars[index], start=place, first_bar=first_bar, run=sounded))
            place, first_bar, index = placed[-1].end, first_bar + bars[index], index + 1
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
                leaves=way.get(part.layer.name, _NOTHING),
            )
            for part in placed.parts
        )
        yield replace(placed, parts=parts)


def _picking_up(placed: PlacedSection) -> list[str]:
    """Name the layers that begin a turn on the section's first barline."""
    return [part.layer.name for part in placed.parts if part.entry == placed.start and not part.layer.start]


def _place(
    section: Section, bars: int, *, start: Place, first_bar: int, run: dict[str, tuple[Layer, Place]]
) -> PlacedSection:
    length = section.meters.of_bars(bars)
    end = start + length
    return PlacedSection(
        section=section,
        start=start,
        length=length,
        first_bar=first_bar,
        bars=bars,
        parts=tuple(
            Part(layer=run[name][0], section=section.index, entry=run[name][1], start=start, end=end)
            for name in section.layers
        ),
        resolved=all(run[name][0].is_home(end - run[name][1]) for name in section.resolve),
    )
