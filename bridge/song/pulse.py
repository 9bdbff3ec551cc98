"""A player's own pulse: what they count, in their own cycle and at their own rate.

The groups or pulses of a layer that has them, the steps of one with a pattern; the counted
beats of its bars for a cycle in bars; else the note that its cycle is written in, a quarter
at most (common practice, no source).  At a rate other than 1 the pulse goes at that rate.
This file knows nothing about sound.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from bridge.cycles.layer import Kind
from bridge.exact import Bars, Length, Meters, Ratio
from bridge.plan.model import LayerPlan
from bridge.song.model import Part
from bridge.song.note_row import NoteRow

__all__ = ["pulse_rows"]

_QUARTER = Fraction(1, 4)


def pulse_rows(part: Part, given: LayerPlan, meters: Meters) -> tuple[NoteRow, ...]:
    """Return the pulse of ``part`` within its section as rows, home first.

    ``given`` is the layer as the plan gives it, ``meters`` those of the section where it
    came in.
    """
    offsets = tuple(_offsets(part.layer.cycle, given, meters, part.layer.accents))
    layer = replace(part.layer, accents=offsets)
    return replace(part, layer=layer, pickup=Length(0), leaves=Length(0)).rows()


def _offsets(
    cycle: Length, given: LayerPlan, meters: Meters, accents: tuple[Length, ...]
) -> Iterator[Length]:
    if given.pattern is not None:
        steps = len(given.pattern.steps)
        yield from (cycle * Ratio(step) / steps for step in range(steps))
    elif given.kind is not Kind.CYCLE:
        yield from accents
    elif isinstance(given.cycle, Bars):
        offset = Length(0)
        for number in range(given.cycle.count):
            for beat in meters.bar(number + 1).counted:
                yield offset
                offset += beat
    else:
        unit = Fraction(1, cycle.whole_notes.denominator)
        if unit > _QUARTER and cycle.whole_notes % _QUARTER == 0:
            unit = _QUARTER
        for number in range(int(cycle.whole_notes / unit)):
            yield Length(unit * number)
