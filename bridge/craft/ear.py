"""How the ear judges two hits that nearly coincide, and two tempi that nearly agree.

Thresholds, each from a published experiment; all are averages over listeners, at their
best, so they say what can be heard, not what will disturb:

* Friberg and Sundberg, "Time discrimination in a monotonic, isochronous sequence" (JASA
  98, 1995): a displaced tone is noticed from 6 ms where tones follow within 240 ms, and
  from 2.5 % of their spacing beyond.
* Rasch, "Synchronization in performed ensemble music" (Acustica 43, 1979): the onsets of
  one chord in a small ensemble spread over 30 to 50 ms.  Up to there two hits pass for one
  stroke; drummers call it a flam (common practice, no source).
* Drake and Botte, "Tempo sensitivity in auditory sequences" (Perception & Psychophysics 54,
  1993): tempi are told apart from 6 % (one interval) down to 3 %, at best 1.5 %.

This file knows nothing about patterns or bars.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction

from bridge.exact import Ratio

__all__ = ["FLAM_MS", "Heard", "Pace", "heard", "noticed_ms", "pace"]

FLAM_MS = Fraction(50)
_LEAST_MS = Fraction(6)
_SHORT_SPACING_MS = Fraction(240)
_SHARE = Fraction(25, 1000)
_PACE_BEST = Fraction(15, 1000)
_PACE_SOME = Fraction(3, 100)
_PACE_ALL = Fraction(6, 100)


class Heard(StrEnum):
    """How two hits are heard together."""

    ONE = "as one"
    FLAM = "a flam"
    APART = "apart"


class Pace(StrEnum):
    """How a slightly other tempo is heard on its own."""

    SAME = "as the same tempo"
    BARELY = "as another tempo by the best listeners"
    OFTEN = "as another tempo by many"
    OTHER = "as another tempo"


def noticed_ms(spacing_ms: Fraction) -> Fraction:
    """Return the displacement, in milliseconds, from which a hit among hits so far apart is noticed."""
    return max(_LEAST_MS, spacing_ms * _SHARE) if spacing_ms > _SHORT_SPACING_MS else _LEAST_MS


def heard(apart_ms: Fraction, *, spacing_ms: Fraction) -> Heard:
    """Judge two hits ``apart_ms`` apart, where hits follow one another ``spacing_ms`` apart."""
    if abs(apart_ms) < noticed_ms(spacing_ms):
        return Heard.ONE
    return Heard.FLAM if abs(apart_ms) <= FLAM_MS else Heard.APART


def pace(rate: Ratio) -> Pace:
    """Judge how a player at ``rate`` times the tempo is heard, without the other beside."""
    off = abs(rate.value - 1)
    if off < _PACE_BEST:
        return Pace.SAME
    if off < _PACE_SOME:
        return Pace.BARELY
    return Pace.OFTEN if off < _PACE_ALL else Pace.OTHER
