"""From a plan and a number of bars for each section to the unrolled song.

This file knows nothing about how the bars were chosen: it tells of each section
whether its layers are home at its end, it does not demand it.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.cycles.layer import Layer
from bridge.exact import Place
from bridge.plan.model import Plan, Section
from bridge.song.model import Part, PlacedSection, Song

__all__ = ["unroll"]


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
    return Song(plan, tuple(placed))


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
