"""Counting syllables for a bar: what a player says aloud.

Beats that divide into four are counted "1 e & a", into two "1 &", into three "1 & a";
each group of an additive meter is counted through, "1 2 3 1 2".  Common practice, no
source.  This file knows nothing about layers.
"""

from __future__ import annotations

from bridge.exact import Length, Meter, Ratio

__all__ = ["counted"]

_TAILS = {1: (), 2: ("&",), 3: ("&", "a"), 4: ("e", "&", "a")}


def counted(meter: Meter, grain: Length) -> list[tuple[Length, str]]:
    """Return the syllables of one bar, each with where in the bar it is said.

    ``grain`` is the finest note wanted; a beat that it does not divide into two, three or
    four is counted without subdivision.
    """
    if len(meter.groups) > 1:
        return _in_groups(meter)
    syllables: list[tuple[Length, str]] = []
    at = Length(0)
    for number, beat in enumerate(meter.counted, start=1):
        parts = _divided(beat, grain)
        for index, word in enumerate((str(number), *_TAILS[parts])):
            syllables.append((at + beat * Ratio(index) / parts, word))
        at += beat
    return syllables


def _divided(beat: Length, grain: Length) -> int:
    """Return into how many syllables a beat is counted: the fewest that say every grain, else one."""
    for parts in (1, 2, 3, 4):
        if not grain % (beat / parts):
            return parts
    return 1


def _in_groups(meter: Meter) -> list[tuple[Length, str]]:
    syllables: list[tuple[Length, str]] = []
    unit = 0
    for group in meter.groups:
        for number in range(1, group + 1):
            syllables.append((meter.beat * unit, str(number)))
            unit += 1
    return syllables
