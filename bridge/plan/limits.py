"""The longest song a plan may fix: 24 hours.

Only bars that the plan fixes count; how long the rest becomes is the planner's business.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import seconds_of
from bridge.plan.model import Section

__all__ = ["LONGEST_SONG_SECONDS", "refuse_longer_than_a_day"]

LONGEST_SONG_SECONDS = 24 * 60 * 60


def refuse_longer_than_a_day(sections: Sequence[Section]) -> None:
    """Raise PlanError at the section with which the fixed bars alone last longer than 24 hours."""
    total = Fraction(0)
    for section in sections:
        bars = section.bars if section.settled_bars is None else section.settled_bars
        if bars is None:
            continue
        total += seconds_of(section.meters.of_bars(bars), section.tempo)
        if total > LONGEST_SONG_SECONDS:
            raise PlanError(
                f"with the {bars:,} bars of {section.name!r} the song lasts longer than 24 hours,"
                " which is the most there is",
                hint="Give it fewer bars.",
                where=section.marks.get("bars", section.marks.get("settled", section.marks["name"])),
            )
