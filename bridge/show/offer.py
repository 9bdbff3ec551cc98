"""The rest of the song planned anew: what each section would become, offered and not imposed.

This file knows nothing about how it was planned.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.exact import show_seconds
from bridge.song import Song, unroll

__all__ = ["Offer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """New numbers of bars for the sections from ``first`` on, in order."""

    first: int
    bars: tuple[int, ...]
    total_seconds: Fraction
    """Of the whole song, as it was played so far and goes on so."""

    def taken(self, song: Song, begun: int) -> Song:
        """Return the song with the offered bars for the sections after ``begun``, which is being played.

        The sections up to then keep the bars that they have in the plan's own count: the
        places of what has been played stay what they are.
        """
        bars = [placed.bars for placed in song.sections]
        for index in range(max(self.first, begun + 1), len(bars)):
            bars[index] = self.bars[index - self.first]
        return unroll(song.plan, bars)

    def in_words(self, song: Song) -> str:
        """Write what becomes of each section, and of the whole: ``Landfall 72 to 84 bars, ...``."""
        rest = song.sections[self.first :]
        changes = [
            f"{placed.name} {'grows' if bars > placed.bars else 'shortens'} from {placed.bars} to {bars}"
            for placed, bars in zip(rest, self.bars, strict=True)
            if bars != placed.bars
        ]
        lasts = show_seconds(self.total_seconds)
        return f"{', '.join(changes) or 'nothing changes'}; the song then lasts {lasts}"
