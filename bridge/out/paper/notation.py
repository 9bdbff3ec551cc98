"""What a player plays in one layer: in words, and its first bars in notation, as many as fit on a line.

This file knows nothing about pages, but how wide a line is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from bridge.exact import Length, Ratio
from bridge.out.musicxml.bars import GRID, staff_of
from bridge.out.musicxml.excerpt import excerpt
from bridge.out.paper.engraving import Engraving, can_engrave, engraved
from bridge.out.paper.words import turn_words
from bridge.song import Part, PlacedSection, Song

__all__ = ["ROOM", "Mine", "mine_of"]

ROOM = 499.0
"""Points: how wide a line of music may be on the page."""
_LEAST_MUSIC = 0.72
"""Music is never shrunk further than this to fit the line."""
_SPACE = 7.0
"""Points between two staff lines, if there were two: the size of the engraved music."""
_MOST_BARS = 4
_MOST_NOTES = 256
"""In the bars shown: more would not fit on a line."""


@dataclass(frozen=True, slots=True)
class Mine:
    """What the player plays in one layer: in words, and in notation where it could be engraved."""

    name: str
    words: str
    music: Engraving | None

    @property
    def scale(self) -> float:
        """How large the music is drawn: 1, or shrunk to fit the line."""
        return 1.0 if self.music is None else min(1.0, ROOM / self.music.width)


def mine_of(song: Song, placed: PlacedSection, part: Part) -> Mine:
    """Tell what is played in a layer, and engrave its first bars where the engraver is installed.

    As many as fit on a line, a pickup's bar before them; where not even one does, that is said.
    """
    words = turn_words(song, placed, part)
    before = 1 if part.pickup else 0
    music, told = None, ""
    for bars in range(min(_MOST_BARS, placed.bars + before), before, -1) if can_engrave() else ():
        music, told = _first_bars(song, placed, part, first_bar=placed.first_bar - before, bars=bars)
        if music is not None:
            break
    return Mine(part.layer.name, " · ".join(filter(None, (*words, told))), music)


def _first_bars(
    song: Song, placed: PlacedSection, part: Part, *, first_bar: int, bars: int
) -> tuple[Engraving | None, str]:
    """Engrave some bars and say how they are to be read; None where they do not fit on a line, and why."""
    shown = song.bars.start_of(first_bar + bars) - song.bars.start_of(first_bar)
    if (shown / part.layer.turn).value * len(part.layer.accents) > _MOST_NOTES:
        return None, "too fast to be written out"
    staff, words = staff_of(song, part.layer.name, first_bar=first_bar, bars=bars), []
    if staff.moved and part.layer.rate != Ratio(1):
        staff = staff_of(_own_pulse(song, placed, part), part.layer.name, first_bar=first_bar, bars=bars)
        words.append("below in your own pulse, from a home")
    if part.pickup:
        words.append(f"below from bar {first_bar}, with the pickup")
    if staff.moved:
        words.append(f"below to the nearest {GRID}")
    music = _engraved(excerpt(staff))
    if music.width * _LEAST_MUSIC > ROOM:
        return None, "a bar is too long to be written out on a line"
    return music, " · ".join(words)


def _own_pulse(song: Song, placed: PlacedSection, part: Part) -> Song:
    """Return the song with ``part`` as its player feels it: at its written rate, from the section's start."""
    plain = replace(part, layer=replace(part.layer, rate=Ratio(1), start=Length(0)), entry=placed.start)
    index = placed.section.index
    here = replace(placed, parts=(plain,))
    return Song(song.plan, (*song.sections[:index], here, *song.sections[index + 1 :]))


@lru_cache(maxsize=256)
def _engraved(score: bytes) -> Engraving:
    return engraved(score, space=_SPACE)
