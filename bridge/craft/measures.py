"""Published measures of a rhythm, exact.

* Weighted note-to-beat distance, off-beatness, Keith's measure as restated: Gómez, Melvin,
  Rappaport and Toussaint, "Mathematical measures of syncopation" (Bridges, 2005).
* Syncopation by the meter's tree: Longuet-Higgins and Lee, "The rhythmic interpretation
  of monophonic music" (Music Perception 1, 1984).
* nPVI: Daniele and Patel (Music Perception 31, 2013).
* Phase process, the interval vector: Toussaint, "The Geometry of Musical Rhythm" (2013).

They say how a rhythm differs from another, not which is better.  A pattern repeats, so
the last hit lasts until the first one of the next turn.  This file knows nothing about
meters beyond a beat in steps and weights per step.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from math import gcd

from bridge.craft.pattern import Pattern

__all__ = [
    "interval_vector",
    "keith",
    "npvi",
    "off_beatness",
    "phase_process",
    "syncopation",
    "weighted_note_to_beat",
]


def weighted_note_to_beat(pattern: Pattern, steps_per_beat: int) -> Fraction:
    """Average, over the hits, of how near to a beat each stands without being on it.

    A hit on a beat counts 0.  One off it, at distance T from the nearest beat (in beats),
    counts 2/T if it sounds past the next beat and ends before the one after, else 1/T.
    """
    total = Fraction(0)
    for onset, gap in zip(pattern.onsets, pattern.gaps, strict=True):
        past = onset % steps_per_beat
        if past == 0:
            continue
        nearest = Fraction(min(past, steps_per_beat - past), steps_per_beat)
        over_one_beat = steps_per_beat < past + gap < 2 * steps_per_beat
        total += (2 if over_one_beat else 1) / nearest
    return total / len(pattern.onsets)


def keith(pattern: Pattern) -> int | None:
    """Count the hits that do not stand on a multiple of their own length, rounded down to a power of two.

    None unless the pattern's steps are a power of two, as the measure demands.
    """
    steps = len(pattern.steps)
    if steps & (steps - 1):
        return None
    return sum(
        1
        for onset, gap in zip(pattern.onsets, pattern.gaps, strict=True)
        if onset % (1 << (gap.bit_length() - 1))
    )


def off_beatness(pattern: Pattern) -> int:
    """Count the hits on steps that no even division of the cycle, coarser than the steps, can reach."""
    steps = len(pattern.steps)
    return sum(1 for onset in pattern.onsets if onset and gcd(onset, steps) == 1)


def syncopation(pattern: Pattern, weights: Sequence[int]) -> int:
    """Add up how much stronger a silent step is than the hit that sounds into it.

    For each hit the strongest step before the next hit is taken; it counts its weight
    less the hit's, where that is more than 0.  ``weights`` are those of the steps.
    """
    steps = len(pattern.steps)
    if len(weights) != steps:
        raise ValueError(f"{len(weights)} weights for {steps} steps")
    total = 0
    for onset, gap in zip(pattern.onsets, pattern.gaps, strict=True):
        silent = (weights[(onset + step) % steps] for step in range(1, gap))
        total += max(0, max(silent, default=weights[onset]) - weights[onset])
    return total


def npvi(durations: Sequence[Fraction | int]) -> Fraction | None:
    """Return the normalized pairwise variability index of durations, 0 (even) to below 200.

    None for fewer than two: there is no pair.
    """
    if len(durations) < 2:
        return None
    pairs = [abs(Fraction(a - b)) / Fraction(a + b) for a, b in pairwise(durations)]
    return 200 * sum(pairs, Fraction(0)) / len(pairs)


def phase_process(pattern: Pattern, other: Pattern | None = None) -> tuple[int, ...]:
    """Count the hits shared with itself (or another) at each shift, from 0 to a turn less one step."""
    against = pattern if other is None else other
    return tuple(pattern.shared(against, shift=shift) for shift in range(len(pattern.steps)))


def interval_vector(pattern: Pattern) -> tuple[int, ...]:
    """Count the pairs of hits 1, 2 ... half a turn apart, the short way round."""
    steps = len(pattern.steps)
    shared = phase_process(pattern)
    return tuple(shared[apart] // (2 if 2 * apart == steps else 1) for apart in range(1, steps // 2 + 1))
