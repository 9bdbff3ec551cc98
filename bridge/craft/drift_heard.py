"""What a drift sounds like: where the ear takes two players for one, hears flams, hears two.

At a constant tempo.  While the second player slides, each shift is left behind at a
fixed speed, so that every threshold of the ear is a stretch of bars about it.  This file
knows nothing about meters.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from bridge.craft.drift import Drift, Shift
from bridge.craft.ear import FLAM_MS, noticed_ms
from bridge.exact import Length, Ratio, Tempo, seconds_per_whole_note

__all__ = ["HeardShift", "always_a_flam", "as_heard"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardShift:
    """One shift, and the stretches over which it is heard as one stroke and as a flam at most."""

    shift: Shift
    one_from: Length
    one_to: Length
    flam_from: Length
    flam_to: Length


def as_heard(drift: Drift, tempo: Tempo) -> Iterator[HeardShift]:
    """Yield each shift with the stretches around it; between two flam stretches the ear hears two players.

    Stretches end half way to the next shift at the latest.  A tempo that moves is taken at
    its average.
    """
    ms = 1000 * seconds_per_whole_note(tempo)
    shortest_gap_ms = min(drift.pattern.gaps) * drift.unit.whole_notes * ms
    one = _reach(drift, noticed_ms(shortest_gap_ms) / ms)
    flam = _reach(drift, FLAM_MS / ms)
    for shift in drift.shifts:
        yield HeardShift(
            shift=shift,
            one_from=max(Length(0), shift.start - one),
            one_to=min(drift.length, shift.end + one),
            flam_from=max(Length(0), shift.start - flam),
            flam_to=min(drift.length, shift.end + flam),
        )


def always_a_flam(drift: Drift, tempo: Tempo) -> bool:
    """Tell whether the steps lie so close that the players are never heard clearly apart."""
    half_step = drift.unit.whole_notes / 2
    return half_step * 1000 * seconds_per_whole_note(tempo) <= FLAM_MS


def _reach(drift: Drift, apart: Fraction) -> Length:
    """Return how long it takes to slide ``apart`` (whole notes) away from a shift."""
    if not drift.sliding:
        return Length(0)
    slide = drift.cycle * Ratio(drift.sliding)
    share = Ratio(apart / drift.unit.whole_notes)
    return min(slide * share, slide / 2)
