"""The sum behind a good length, as a teacher would write it on the board.

``3 bars = 48 sixteenths = 16 turns of 3``.  This file knows no command and no terminal.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import lcm

from bridge.cycles import Layer, good_lengths
from bridge.cycles.words import joined
from bridge.exact import Bars, Length, Meters

__all__ = ["sum_in_words"]

_NAMES = {
    1: "whole note",
    2: "half",
    4: "quarter",
    8: "eighth",
    16: "sixteenth",
    32: "thirty-second",
    64: "sixty-fourth",
}


def sum_in_words(meters: Meters, layers: Sequence[Layer], lengths: Sequence[int]) -> list[str]:
    """Return the lines of the sum: each layer alone, then all together at the end of each of ``lengths``."""
    bars = [meters.of_bars(index + 1) for index in range(len(meters.row))]
    parts = [*bars, *(part for layer in layers for part in (layer.turn, layer.start))]
    unit = lcm(*(part.whole_notes.denominator for part in parts))
    lines = [f"Counted in {_count(None, unit)}, which fit them all:"]
    for layer in layers:
        alone = good_lengths(meters, [layer]).at_or_after(1)
        said = "never home on a barline" if alone is None else _line(meters, [layer], alone, unit)
        lines.append(f"  {layer.name}: {said}")
    if len(layers) > 1:
        lines += [f"  together: {_line(meters, layers, count, unit)}" for count in dict.fromkeys(lengths)]
    return lines + _nothing_earlier(meters, layers, unit)


def _line(meters: Meters, layers: Sequence[Layer], bars: int, unit: int) -> str:
    """Write ``12 bars = 192 sixteenths = 3 turns of 64 (band) = 64 turns of 3 (drum)``."""
    length = meters.of_bars(bars)
    sides = [str(Bars(bars)), _count(_units(length, unit), unit)]
    for layer in layers:
        turns = layer.turns(length)
        rest = "" if turns.denominator == 1 else f" and {_units(layer.turn, unit) * (turns % 1)} over"
        whole = int(turns)
        side = f"{whole} turn{'' if whole == 1 else 's'} of {_units(layer.turn, unit)}{rest}"
        if layer.start:
            side = f"{_units(layer.start, unit)} to the first home + {side}"
        sides.append(side if len(layers) == 1 else f"{side} ({layer.name})")
    return " = ".join(sides)


def _nothing_earlier(meters: Meters, layers: Sequence[Layer], unit: int) -> list[str]:
    """Say why there is no good length before the first, where that is one least common multiple."""
    if len(meters.row) > 1 or any(layer.start for layer in layers):
        return []
    numbers = [f"{_units(meters.length, unit)} (the bar)"]
    numbers += [f"{_units(layer.turn, unit)} ({layer.name})" for layer in layers]
    least = lcm(_units(meters.length, unit), *(_units(layer.turn, unit) for layer in layers))
    return [f"{least} is the least number that {joined(numbers)} all divide: nothing earlier will do."]


def _units(length: Length, unit: int) -> int:
    return (length.whole_notes * unit).numerator


def _count(number: int | None, unit: int) -> str:
    name = _NAMES.get(unit, f"1/{unit} note")
    plural = {"half": "halves"}.get(name, f"{name}s")
    if number is None:
        return plural
    return f"{number} {name if number == 1 else plural}"
