"""A groove as people write it, and everything that is measured about one of its voices.

Barlines are those written as ``|``, else the meter's.  This file knows nothing about
grouping or variation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from bridge.craft.levels import beat_steps, own_weights, weights_of_bars
from bridge.craft.measures import (
    interval_vector,
    keith,
    npvi,
    off_beatness,
    syncopation,
    weighted_note_to_beat,
)
from bridge.craft.pattern import Groove, Pattern
from bridge.cycles import Layer
from bridge.errors import PlanError
from bridge.exact import Length, Meters

__all__ = ["Measures", "as_layer", "measure", "parse_groove", "step_weights"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """Published measures of one voice; None where the measure is not defined for it."""

    hits: int
    steps: int
    note_to_beat: Fraction | None
    """Weighted note-to-beat distance: None where the beats are uneven or the cycle is no whole beats."""
    keith: int | None
    """None unless the steps are a power of two."""
    off_beatness: int
    syncopation: int | None
    """By the meter's tree: None unless the cycle is whole bars."""
    npvi: Fraction | None
    """Of the times from hit to hit, in one turn."""
    intervals: tuple[int, ...]
    """The interval vector."""


def parse_groove(voices: Mapping[str, str], *, unit: Length, meters: Meters) -> Groove:
    """Read each voice's ``x..x..x.``; barlines written in one voice hold for all.

    PlanError where voices differ in length, or two of them write different barlines.
    """
    patterns = tuple((name, Pattern.parse(text)) for name, text in voices.items())
    written = {_written_barlines(text) for text in voices.values() if "|" in text.strip(" \t|")}
    if len(written) > 1:
        raise PlanError(
            f"the voices write different barlines: {', '.join(map(str, sorted(written)))}",
            hint="Write them in one voice, or alike in all.",
        )
    steps = len(patterns[0][1].steps) if patterns else 0
    barlines = written.pop() if written else _barlines_of(meters, unit, steps)
    return Groove(unit=unit, voices=patterns, barlines=barlines)


def as_layer(name: str, pattern: Pattern, *, unit: Length) -> Layer:
    """Return a layer that repeats ``pattern``, its hits as accents, home at its first step."""
    return Layer(
        name=name,
        cycle=unit * len(pattern.steps),
        accents=tuple(unit * onset for onset in pattern.onsets),
    )


def step_weights(groove: Groove, meters: Meters) -> tuple[int, ...]:
    """Return how strong each step is: by the meter where the groove is whole bars, else by itself."""
    return weights_of_bars(meters, groove.unit, groove.steps) or own_weights(groove.steps)


def measure(pattern: Pattern, *, unit: Length, meters: Meters) -> Measures:
    """Measure one voice under its meters, from where they begin."""
    steps = len(pattern.steps)
    weights = weights_of_bars(meters, unit, steps)
    beat = beat_steps(meters.row[0], unit) if len(meters.row) == 1 else None
    return Measures(
        hits=len(pattern.onsets),
        steps=steps,
        note_to_beat=weighted_note_to_beat(pattern, beat) if beat and steps % beat == 0 else None,
        keith=keith(pattern),
        off_beatness=off_beatness(pattern),
        syncopation=None if weights is None else syncopation(pattern, weights),
        npvi=npvi(pattern.gaps),
        intervals=interval_vector(pattern),
    )


def _written_barlines(text: str) -> tuple[int, ...]:
    """Return the steps at which the bars written in ``text`` begin; bars without steps are passed over."""
    found = []
    step = 0
    for bar in text.split("|"):
        inside = sum(1 for sign in bar if sign not in " \t")
        if inside:
            found.append(step)
        step += inside
    return tuple(found)


def _barlines_of(meters: Meters, unit: Length, steps: int) -> tuple[int, ...]:
    """Return the meter's barlines that fall on a step within the pattern; always the first."""
    return tuple(step for step in range(steps) if meters.bars_in(unit * step) is not None)
