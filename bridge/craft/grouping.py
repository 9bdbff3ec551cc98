"""Groupings: how a row of hits is counted in twos, threes and fours, ``2 3 3 | 3 3 2``.

Where nothing is written as accented, accents are those that listeners hear in equal
sounds: a hit alone, the second of two neighbours, the first and last of three or more
(Povel and Essens, "Perception of temporal patterns", Music Perception 2, 1985; rule
from memory).  As in their clock, a group head costs where it falls on silence, and a hit
costs where it falls between the heads.  A reading is an offer, not a law: the rivals
stand beside it.  This file knows nothing about meters.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from bridge.craft.pattern import ACCENT, HIT, Pattern
from bridge.errors import MusicError, PlanError

__all__ = [
    "DEFAULT_PARTS",
    "GroupReading",
    "count_groupings",
    "groupings",
    "heard_accents",
    "mixtures",
    "readings",
]

DEFAULT_PARTS = (2, 3, 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupReading:
    """One way to count a pattern: the groups of each bar, and what speaks against it."""

    bars: tuple[tuple[int, ...], ...]
    silent_heads: int
    """Group heads on which nothing sounds."""
    stray_hits: int
    """Plain hits between the heads."""
    stray_accents: int
    """Accented hits between the heads."""

    @property
    def misfit(self) -> int:
        """What speaks against it: silent heads and stray hits once, stray accents twice; 0 fits."""
        return self.silent_heads + self.stray_hits + 2 * self.stray_accents

    @property
    def groups(self) -> tuple[int, ...]:
        """All groups in order, bars aside."""
        return tuple(group for bar in self.bars for group in bar)

    def __str__(self) -> str:
        return " | ".join(" ".join(map(str, bar)) for bar in self.bars)


def heard_accents(pattern: Pattern) -> Pattern:
    """Return the pattern with the accents a listener supplies; as it is where any are written."""
    if ACCENT in pattern.steps:
        return pattern
    steps = len(pattern.steps)
    sounding = [bool(step) for step in pattern.steps]

    def accented(onset: int) -> bool:
        before, after = sounding[onset - 1], sounding[(onset + 1) % steps]
        if before and after:
            return False
        if before or not after:
            return True
        return sounding[(onset + 2) % steps]

    marked = list(pattern.steps)
    for onset in pattern.onsets:
        marked[onset] = ACCENT if accented(onset) else HIT
    return Pattern(tuple(marked))


def readings(
    pattern: Pattern,
    *,
    barlines: Sequence[int] = (0,),
    parts: Sequence[int] = DEFAULT_PARTS,
    rivals: int = 4,
) -> tuple[GroupReading, ...]:
    """Return the reading that fits best, then its nearest ``rivals``, best first.

    Groups are of the sizes ``parts`` and never cross a barline (steps, the first being 0).
    Equal fits are ordered by fewer groups, then by the groups themselves.  MusicError
    names a bar that no such groups fill.
    """
    sizes = _sizes(parts)
    heard = heard_accents(pattern)
    best = [GroupReading(bars=(), silent_heads=0, stray_hits=0, stray_accents=0)]
    ends = (*barlines[1:], len(pattern.steps))
    for number, (start, end) in enumerate(zip(barlines, ends, strict=True), start=1):
        choices = _of_bar(heard.steps[start:end], sizes, rivals + 1)
        if not choices:
            raise MusicError(
                f"bar {number} has {end - start} steps, which groups of "
                f"{' and '.join(map(str, sizes))} cannot fill",
                hint="Allow other sizes of group, or move the barlines.",
            )
        joined = [_joined(before, after) for before in best for after in choices]
        best = _best(joined, keep=rivals + 1)
    return tuple(best)


def groupings(steps: int, parts: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Yield every ordered way to fill ``steps`` with groups of the sizes ``parts``, small first."""
    sizes = _sizes(parts)
    if steps == 0:
        yield ()
        return
    for size in sizes:
        if size <= steps:
            for rest in groupings(steps - size, sizes):
                yield (size, *rest)


def mixtures(steps: int, parts: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Yield every way to fill ``steps`` whatever the order, large groups first."""
    sizes = _sizes(parts)
    if steps == 0:
        yield ()
        return
    for size in reversed(sizes):
        if size <= steps:
            smaller = [part for part in sizes if part <= size]
            for rest in mixtures(steps - size, smaller):
                yield (size, *rest)


def count_groupings(steps: int, parts: Sequence[int]) -> int:
    """Count the ordered ways to fill ``steps``, without listing them."""
    sizes = _sizes(parts)
    ways = [1]
    for filled in range(1, steps + 1):
        ways.append(sum(ways[filled - size] for size in sizes if size <= filled))
    return ways[steps]


@lru_cache(maxsize=4096)
def _of_bar(steps: tuple[int, ...], sizes: tuple[int, ...], keep: int) -> tuple[GroupReading, ...]:
    """Return the ``keep`` best readings of one bar: costs add up, so the best are built of the best."""
    best: list[list[GroupReading]] = [
        [GroupReading(bars=((),), silent_heads=0, stray_hits=0, stray_accents=0)]
    ]
    for end in range(1, len(steps) + 1):
        found = []
        for size in sizes:
            if size <= end:
                group = _group(steps[end - size : end])
                found += [_lengthened(before, group) for before in best[end - size]]
        best.append(_best(found, keep=keep))
    return tuple(best[-1])


def _group(steps: tuple[int, ...]) -> GroupReading:
    inside = steps[1:]
    return GroupReading(
        bars=((len(steps),),),
        silent_heads=int(not steps[0]),
        stray_hits=inside.count(HIT),
        stray_accents=inside.count(ACCENT),
    )


def _lengthened(before: GroupReading, group: GroupReading) -> GroupReading:
    joined = _joined(before, group)
    return GroupReading(
        bars=((*before.bars[0], *group.bars[0]),),
        silent_heads=joined.silent_heads,
        stray_hits=joined.stray_hits,
        stray_accents=joined.stray_accents,
    )


def _joined(before: GroupReading, after: GroupReading) -> GroupReading:
    return GroupReading(
        bars=before.bars + after.bars,
        silent_heads=before.silent_heads + after.silent_heads,
        stray_hits=before.stray_hits + after.stray_hits,
        stray_accents=before.stray_accents + after.stray_accents,
    )


def _best(found: list[GroupReading], *, keep: int) -> list[GroupReading]:
    return sorted(found, key=lambda one: (one.misfit, len(one.groups), one.groups))[:keep]


def _sizes(parts: Sequence[int]) -> tuple[int, ...]:
    if not parts or min(parts) < 1:
        raise PlanError(f"groups have sizes of 1 or more, not {', '.join(map(str, parts)) or 'none'}")
    return tuple(sorted(set(parts)))
