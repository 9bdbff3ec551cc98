"""Why layers that do meet never meet on a barline: where in the bar they meet instead.

This file knows nothing about tempo or sections.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

from bridge.cycles.layer import Layer
from bridge.cycles.meetings import Meetings, divisor
from bridge.cycles.words import in_words, joined
from bridge.exact import Length, Meters

__all__ = ["OffBar"]

_SHOWN = 4
_LOOKED_AT = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class OffBar:
    """Layers whose full meetings, ``together``, all miss the barlines of ``meters``."""

    meters: Meters
    layers: tuple[Layer, ...]
    together: Meetings

    @property
    def miss(self) -> Length:
        """How near to a barline a meeting ever comes."""
        common = divisor((self.meters.length, self.together.every))
        misses = []
        for index in range(len(self.meters.row)):
            after = (self.together.first - self.meters.of_bars(index)) % common
            misses.append(min(after, common - after))
        return min(misses)

    def __str__(self) -> str:
        names = joined([repr(layer.name) for layer in self.layers])
        verb = "is home" if len(self.layers) == 1 else "are home together"
        return (
            f"{names} {verb} every {in_words(self.together.every)}, first at "
            f"{self.meters.show_place(self.together.first)}, but never on a barline of {self.meters}: "
            f"always {joined(self._spots(), last='or')}; the nearest they come to a barline is "
            f"{in_words(self.miss)}"
        )

    def _spots(self) -> list[str]:
        different = self.meters.length // divisor((self.meters.length, self.together.every))
        looked = islice(self.together, min(_LOOKED_AT, different))
        spots = list(dict.fromkeys(self._spot(at) for at in looked))
        return spots if len(spots) <= _SHOWN else [*spots[:_SHOWN], "elsewhere in the bar"]

    def _spot(self, at: Length) -> str:
        before = self.meters.bars_within(at)
        meter = self.meters.bar(before + 1)
        into = at - self.meters.of_bars(before)
        beat = into // meter.beat + 1
        row = len(self.meters.row)
        bar = f" of bar {before % row + 1} of the list" if row > 1 else ""
        if not into % meter.beat:
            return f"on beat {beat}{bar}"
        if beat == meter.top:
            return f"between beat {beat} and the barline after it{bar}"
        return f"between beats {beat} and {beat + 1}{bar}"
