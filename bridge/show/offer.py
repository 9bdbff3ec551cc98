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

    bars: tuple[tuple[str, int], ...]
    """The sections that were still to come when it was worked out, each with its bars."""
    total_seconds: Fraction
    """Of the whole song, as it was played so far and goes on so."""

    def taken(self, song: Song, begun: int) -> Song:
        """Return the song with the offered bars for the sections after ``begun``, which is being played.

        The sections up to then keep the bars that they have in the plan's own count: the
        places of what has been played stay what they are.
        """
        offered = dict(self.bars)
        bars = [
            offered.get(placed.name, placed.bars) if placed.section.index > begun else placed.bars
            for placed in song.sections
        ]
        return unroll(song.plan, bars)

    def in_words(self, song: Song) -> str:
        """Write what becomes of each section, and of the whole: ``Landfall 72 to 84 bars, ...``."""
        offered = dict(self.bars)
        changes = [
            f"{placed.name} {_becomes(placed.bars, offered[placed.name])}"
            for placed in song.sections
            if offered.get(placed.name, placed.bars) != placed.bars
        ]
        lasts = show_seconds(self.total_seconds)
        return f"{', '.join(changes) or 'nothing changes'}; the song then lasts {lasts}"


def _becomes(before: int, after: int) -> str:
    return f"{'grows' if after > before else 'shortens'} from {before} to {after} bars"
