"""How figures are written in a reading: times, energies, counts.

This file knows nothing about rules or songs.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from bridge.exact import show_number, show_seconds
from bridge.plan.accepting import Measure

__all__ = ["counted", "energy", "listed", "measured", "number", "time"]


def time(seconds: Fraction) -> str:
    """Write a time to the second, or under ten seconds to the tenth: ``1:23``, ``8.3 s``."""
    if seconds < 10:
        return f"{number(seconds)} s"
    return show_seconds(Fraction(round(seconds)))


def number(value: Fraction) -> str:
    """Write a number with one decimal at most, below 3 with two."""
    places = 2 if abs(value) < 3 else 1
    return show_number(Fraction(round(value * 10**places), 10**places))


def energy(points: Sequence[Fraction]) -> str:
    """Write energies as a plan file does: ``40`` or ``[20, 90]``."""
    written = [show_number(point) for point in points]
    return written[0] if len(written) == 1 else f"[{', '.join(written)}]"


def counted(count: int, one: str, many: str | None = None) -> str:
    """Write a number of things: ``1 section``, ``3 sections``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(words: Sequence[str], *, most: int = 4) -> str:
    """Write words as people do: ``a, b and c``; beyond ``most`` how many more there are."""
    if len(words) > most:
        return f"{', '.join(words[:most])} and {len(words) - most} more"
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))


def measured(value: Fraction, measure: Measure) -> str:
    """Write what a reading measured, with its unit."""
    ways = {
        Measure.SECONDS: time,
        Measure.SHARE: lambda share: f"{number(share * 100)} %",
        Measure.TIMES: lambda times: f"{number(times)} times",
        Measure.POINTS: lambda points: f"{number(points)} points",
        Measure.COUNT: number,
    }
    return ways[measure](value)
