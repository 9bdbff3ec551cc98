"""SMPTE time: hours, minutes, seconds and frames at a rate of film or television.

Source: SMPTE ST 12-1 as restated in common references (the standard itself was not
read): at 29.97 drop frame the numbers 00 and 01 are skipped at each minute but every
tenth; drop frame is written with a semicolon.  A time is the nearest frame, at most half
a frame off.  This file knows nothing about songs.
"""

from __future__ import annotations

from fractions import Fraction

from bridge.errors import UsageError

__all__ = ["RATES", "frames_per_second", "smpte"]

RATES: dict[str, Fraction] = {
    "24": Fraction(24),
    "25": Fraction(25),
    "30": Fraction(30),
    "23.976": Fraction(24000, 1001),
    "29.97": Fraction(30000, 1001),
    "29.97df": Fraction(30000, 1001),
}


def frames_per_second(rate: str) -> Fraction:
    """Return the frames a second at ``rate``; UsageError for one that is not in :data:`RATES`."""
    if rate not in RATES:
        raise UsageError(f"there is no SMPTE rate {rate[:20]!r}", hint=f"Give one of {', '.join(RATES)}.")
    return RATES[rate]


def smpte(seconds: Fraction, rate: str) -> str:
    """Write ``seconds`` (0 or more) as ``hh:mm:ss:ff`` at ``rate``; beyond a day the hours go on."""
    frame = round(seconds * frames_per_second(rate))
    nominal = round(RATES[rate])
    drop = rate.endswith("df")
    if drop:
        frame += _skipped(frame)
    whole, frames = divmod(frame, nominal)
    minutes, second = divmod(whole, 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours:02d}:{minute:02d}:{second:02d}{';' if drop else ':'}{frames:02d}"


def _skipped(frame: int) -> int:
    """Return how many numbers were skipped before the ``frame``th, counted from 0."""
    tens, rest = divmod(frame, 10 * 60 * 30 - 9 * 2)
    minutes = max(0, (rest - 2) // (60 * 30 - 2))
    return 18 * tens + 2 * minutes
