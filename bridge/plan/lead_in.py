"""What leads into a section's first bar: a pickup that sounds before it, bars counted in.

This file knows nothing about how a section is written as a group of keys.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.errors import PlanError, Where
from bridge.exact import Length, Meters, parse_bars
from bridge.plan.hints import listed
from bridge.plan.model import LayerPlan
from bridge.plan.values import Reads, text_reader

__all__ = ["MAX_COUNT_IN", "counted_in", "refuse_pickup"]

MAX_COUNT_IN = 16
"""Bars."""


def counted_in() -> Reads:
    """Make a field for the bars that are counted in: ``2 bars``, or the bare number."""

    def parse(text: str) -> int:
        bars = parse_bars(text, what="a count-in").count
        if bars > MAX_COUNT_IN:
            raise PlanError(
                f"a count-in is 1 to {MAX_COUNT_IN} bars, not {bars}",
                hint="For a longer wait make a section of it, with 'layers: []'.",
            )
        return bars

    schema = {"type": ["integer", "string"], "minimum": 1, "maximum": MAX_COUNT_IN}
    return Reads(text_reader(parse, "a count-in"), {**schema, "pattern": r"^\s*[0-9]+\s*(bars?)?\s*$"})


def refuse_pickup(
    pickup: Length,
    *,
    section: str,
    sounding: Sequence[str],
    entering: Sequence[str],
    layers: Mapping[str, LayerPlan],
    before: Meters,
    where: Where,
) -> None:
    """Refuse a pickup that nobody can play, or that is longer than the bar it lies in.

    ``entering`` are those of the ``sounding`` layers whose turns begin with the section,
    ``before`` the meters of the section before it (for the first, its own).
    """
    if not any(not layers[name].start for name in entering):
        raise PlanError(
            f"nobody can play the pickup of {section!r}: no layer begins a turn on its first barline",
            hint="A pickup is played by the layers that come in with the section or restart there, without"
            f" a 'start'. Here {_who(sounding, entering)}: take 'pickup' out.",
            where=where,
        )
    bar = min((meter.length for meter in before.row), key=lambda length: length.whole_notes)
    if pickup > bar:
        raise PlanError(
            f"the pickup of {section!r} is {pickup} of a whole note, and the bar before it only {bar}",
            hint=f"A pickup lies within one bar: write {bar} at most.",
            where=where,
        )


def _who(sounding: Sequence[str], entering: Sequence[str]) -> str:
    if not sounding:
        return "nobody sounds"
    return f"{listed(entering)} begin later" if entering else "all run on into it"
