"""All ways through one block within a reach of regret.

What is left out for having too much regret, or for lack of room, is accounted for:
nothing left out has less regret than ``beyond``.  This file knows nothing about the
rest of the song.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.shape.effort import Effort
from bridge.shape.guide import Guide
from bridge.shape.move import Move
from bridge.shape.numbers import Array, Exact
from bridge.shape.trellis import TIME, Labels, LeftOut, Trellis
from bridge.shape.window import Window

__all__ = ["Walk", "walk"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """What a walk through a block found: complete ways, by regret and (if asked for) seconds."""

    layers: tuple[Labels, ...]
    beyond: Exact | None
    """No way that was left out has less regret than this; None: none was left out."""

    @property
    def regrets(self) -> Array:
        """The regret of each way."""
        return self.layers[-1].regrets

    @property
    def seconds(self) -> Array:
        """The seconds of each way, where they were asked for."""
        return self.layers[-1].columns[TIME]

    def bars(self, way: int) -> list[int]:
        """Return the bars of each section along a way."""
        found = []
        for labels in reversed(self.layers[1:]):
            found.append(int(labels.bars[way]))
            way = int(labels.parents[way])
        return found[::-1]


def walk(
    trellis: Trellis,
    windows: Sequence[Window],
    reach: Exact | None,
    effort: Effort,
    *,
    timed: bool,
    guide: Guide | None = None,
) -> Walk:
    """Find the complete ways whose regret is at most ``reach`` (None: any).

    ``timed`` keeps ways of different seconds apart; a ``guide`` that reaches as far then
    tells early which ways will not do.  Regrets are sums of the windows'.
    """
    nothing = np.zeros(1, dtype=np.int64)
    start = {TIME: nothing} if timed else {}
    layers = [Labels(columns=start, regrets=nothing, parents=nothing, bars=nothing)]
    left_out = LeftOut()
    for stage, window in zip(trellis.stages, windows, strict=True):
        left_out.note(window.beyond)
        labels = Move(trellis, stage, window, layers[-1], timed).made(reach, effort, left_out)
        if guide is not None and reach is not None:
            labels = guide.kept(len(layers), labels, reach, left_out)
        layers.append(labels)
    return Walk(layers=tuple(layers), beyond=left_out.least)
