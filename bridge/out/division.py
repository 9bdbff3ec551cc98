"""How many ticks a quarter note gets in a MIDI file: enough for every place to be exact.

Source: Standard MIDI File 1.0 (RP-001, 1996): the division is 1 to 32767 ticks a quarter.
This file knows nothing about events.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import lcm

from bridge.song import Frame, Part, Song

__all__ = ["MOST_TICKS", "Division"]

MOST_TICKS = 32767
_USUAL = (960, 480, 240, 120, 96, 48, 24)
"""Divisions that other programs like, wished for in this order."""
_MOST_IN_ALL = 10_000_000
"""Ticks in a song: some readers take a file with more for a broken one (pretty_midi does)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Division:
    """Ticks a quarter note, and the layers whose notes do not all fall on a tick."""

    per_quarter: int
    rounded: tuple[str, ...] = ()

    @classmethod
    def of(cls, frame: Frame) -> Division:
        """Choose the division for a song: every barline exact, and as many layers as fit.

        Layers with the simplest needs go first.  The result is a multiple of a usual
        division where one fits and the song does not get too many ticks.
        """
        exact, rounded = _barlines(frame.song), []
        needs = {name: _needs(parts) for name, parts in frame.song.sounding().items() if parts}
        for name, need in sorted(needs.items(), key=lambda item: item[1]):
            if lcm(exact, need) <= MOST_TICKS:
                exact = lcm(exact, need)
            else:
                rounded.append(name)
        return cls(per_quarter=_usual(exact, frame), rounded=tuple(rounded))


def _usual(exact: int, frame: Frame) -> int:
    """Return the multiple of ``exact`` that other programs like best."""
    length = frame.quarters(frame.song.end)
    fits = [fit for fit in (*(lcm(exact, wish) for wish in _USUAL), exact) if fit <= MOST_TICKS]
    return next((fit for fit in fits if fit * length <= _MOST_IN_ALL), exact)


def _barlines(song: Song) -> int:
    meters = {meter for placed in song.sections for meter in placed.section.meters.row}
    return lcm(*(beat.quarters.denominator for meter in meters for beat in meter.counted))


def _needs(parts: tuple[Part, ...]) -> int:
    rows = [row for part in parts for row in part.rows() if row.count]
    return lcm(
        *(row.first.quarters.denominator for row in rows), *(row.step.quarters.denominator for row in rows)
    )
