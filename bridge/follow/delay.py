"""The fixed delay of a source, measured: by someone who taps along, or by what we sent and got back.

A tap falls on a beat that is heard; how far from a beat the source then stands is its delay,
to the nearest beat.  The middle is a circular median (Fisher 1993, Statistical Analysis of
Circular Data, 2.3.2) and the spread the median distance from it, so that a few slips of the
finger count for nothing.  Standard errors suppose taps that are independent; a person's
nearly are.

People tap ahead of what they hear, as a rule by some tens of milliseconds, musicians by less:
the "negative mean asynchrony" (Repp 2005, Sensorimotor synchronization: a review of the
tapping literature, Psychonomic Bulletin & Review 12, 969-992; the figures of ``AHEAD_MS``
are from memory).  It is in every delay measured so, and is not taken off here, since
nobody knows whose it is.

Times in seconds.  This file knows neither ports nor keys.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import pi, sqrt
from statistics import median

from bridge.follow.transport import Source, Transport

__all__ = ["AHEAD_MS", "FEWEST", "Found", "Share", "Taps", "Unsure", "of_round_trips", "of_taps"]

AHEAD_MS = (20, 80)
"""How far ahead of the beat people tap as a rule: not taken off."""
FEWEST = 8
"""Taps, or round trips, that a delay is told from."""
_MOST_SPREAD = 0.05
_MOST_OF_BEAT = 1 / 8
"""Taps that spread wider, in seconds or as a share of the beat, are on no beat."""
_MOST_LOOP_SPREAD = 0.01
_BOUNCE = 0.1
"""Seconds: a second tap so soon is a key that repeats itself."""
_NORMAL = 1.4826
"""Standard deviations in a median distance, of normal errors."""
_OF_MEDIAN = sqrt(pi / 2)
"""The standard error of a median over that of a mean, of normal errors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A delay: its standard error, how widely single ones spread about it, from how many it is."""

    delay: float
    error: float
    spread: float
    count: int
    beat: float | None = None
    """By taps: the length of a beat; a delay longer than half of it is told short by whole beats."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsure:
    """No delay, and why not; how widely they spread, where there were enough of them to say."""

    why: str
    count: int
    spread: float | None = None
    beat: float | None = None


class Share(StrEnum):
    """How much of the way there and back is the source's delay."""

    HALF = "half"
    """Both ways take the same time."""
    WHOLE = "whole"
    """The way out takes none."""


class Taps:
    """Taps as they fall, each with where every source stood then; what delays they add up to."""

    __slots__ = ("_last", "_places", "count", "unused")

    def __init__(self) -> None:
        self._last: float | None = None
        self._places: dict[Source, list[tuple[float, float]]] = {}
        self.count = 0
        self.unused = 0
        """Those that fell while no source was playing at a known place, or too soon after another."""

    def take(self, at: float, states: Sequence[Transport]) -> bool:
        """Take a tap at ``at`` and the sources' states then; tell whether it was of use."""
        self.count += 1
        bounced = self._last is not None and at - self._last < _BOUNCE
        known = [] if bounced else [state for state in states if state.playing and state.locked]
        if not bounced:
            self._last = at
        for state in known:
            if state.source is not None and state.quarters is not None and state.bpm:
                self._places.setdefault(state.source, []).append((state.quarters, 60 / state.bpm))
        self.unused += not known
        return bool(known)

    def delays(self) -> dict[Source, Found | Unsure]:
        """Return the delay of each source that was playing, as far as the taps tell it."""
        return {source: of_taps(places) for source, places in self._places.items()}


def of_taps(places: Sequence[tuple[float, float]]) -> Found | Unsure:
    """Return the delay by taps, each given as the place it fell on and a beat's seconds there.

    Places in beats by the source's messages as they came.  The delay lies within half a beat
    either way: above 0 where the beat is heard before the source says so.
    """
    if not places:
        return Unsure(why="no tap fell while it was playing at a known place", count=0)
    beat = median(seconds for _, seconds in places)
    if len(places) < FEWEST:
        return Unsure(why=_too_few(len(places), "taps"), count=len(places), beat=beat)
    middle = _circular_median([-place % 1.0 for place, _ in places])
    offsets = [(middle + _wrapped(-place - middle)) * seconds for place, seconds in places]
    delay, spread = _middle_and_spread(offsets)
    most = min(_MOST_SPREAD, _MOST_OF_BEAT * beat)
    if spread > most:
        why = (
            f"the taps spread by {spread * 1000:.0f} ms, more than {most * 1000:.0f}:"
            " tap every quarter note, as evenly as you can"
        )
        return Unsure(why=why, count=len(places), spread=spread, beat=beat)
    delay -= beat * round(delay / beat)
    error = _error(spread, len(places))
    return Found(delay=delay, error=error, spread=spread, count=len(places), beat=beat)


def of_round_trips(seconds: Sequence[float], *, sent: int, share: Share = Share.HALF) -> Found | Unsure:
    """Return the delay by the round trips of what came back of ``sent``, ``share`` of each."""
    count = len(seconds)
    if not count:
        return Unsure(why="nothing came back", count=0)
    if count < FEWEST:
        return Unsure(why=_too_few(count, "round trips"), count=count)
    if 2 * count < sent:
        return Unsure(why=f"only {count} of {sent} came back", count=count)
    middle, spread = _middle_and_spread(seconds)
    if spread > _MOST_LOOP_SPREAD:
        why = (
            f"the round trips spread by {spread * 1000:.1f} ms, more than {_MOST_LOOP_SPREAD * 1000:.0f}:"
            " this is no fixed delay"
        )
        return Unsure(why=why, count=count, spread=spread)
    part = 0.5 if share is Share.HALF else 1.0
    return Found(delay=part * middle, error=part * _error(spread, count), spread=spread, count=count)


def _too_few(count: int, what: str) -> str:
    return f"{count} {what} are too few: at least {FEWEST} are needed"


def _middle_and_spread(values: Sequence[float]) -> tuple[float, float]:
    middle = median(values)
    return middle, _NORMAL * median(abs(value - middle) for value in values)


def _error(spread: float, count: int) -> float:
    return _OF_MEDIAN * spread / sqrt(count)


def _circular_median(phases: Sequence[float]) -> float:
    """Return the one of ``phases`` (turns) that is nearest to all, within half a turn of 0."""
    nearest = min(phases, key=lambda one: sum(abs(_wrapped(other - one)) for other in phases))
    return _wrapped(nearest)


def _wrapped(turns: float) -> float:
    """Return ``turns`` less whole ones, from -1/2 to 1/2."""
    return turns - round(turns)
