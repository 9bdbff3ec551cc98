"""From one solution to another: what has to be done by hand to recorded material, in order.

Audio does not move with markers.  A section that grew needs bars put in before its end,
one that shrank has bars cut there; what is new, gone or elsewhere is put in, cut, or cut
and kept.  Each bar number counts what was done before it, so that the list can be worked
through from the top.  This file knows nothing about files or hosts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Change", "Deed", "Stand", "changes", "settled_that_change"]


class Deed(StrEnum):
    """What is to be done."""

    INSERT = "insert"
    CUT = "cut"
    RETIME = "retime"
    """The same bars at another tempo or in another meter: stretched, or played anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A section of a solution, as far as recorded material has to do with it."""

    name: str
    bars: int
    settled: bool = False
    """It has been recorded and stays."""
    time: str | None = None
    """Its tempo and meter in words; None where they are not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing to be done at the start of a bar, counted after all that comes before it."""

    do: Deed
    section: str
    bars: int
    at_bar: int
    why: str
    """longer, shorter, new, gone, moved (cut and kept, or put in again), or the two times."""


def settled_that_change(old: Sequence[Stand], new: Sequence[Stand]) -> tuple[str, ...]:
    """Name the settled sections whose bars, or what comes before them, would change."""
    settled = [max((i + 1 for i, one in enumerate(side) if one.settled), default=0) for side in (old, new)]
    count = max(settled)
    before = [(one.name, one.bars) for one in old[:count]]
    after = [(one.name, one.bars) for one in new[:count]]
    longest = max(len(before), len(after))
    return tuple(
        (before[i] if i < len(before) else after[i])[0]
        for i in range(longest)
        if before[i : i + 1] != after[i : i + 1]
    )


def changes(old: Sequence[Stand], new: Sequence[Stand], *, first_bar: int = 1) -> tuple[Change, ...]:
    """Return what turns material recorded to ``old`` into the shape of ``new``, first to last.

    ``first_bar`` is the host's bar on which the song begins.
    """
    stay = _staying([one.name for one in old], [one.name for one in new])
    return tuple(_walk(old, new, stay, first_bar))


def _walk(old: Sequence[Stand], new: Sequence[Stand], stay: frozenset[str], bar: int) -> Iterator[Change]:
    was, now = {one.name: one for one in old}, {one.name: one for one in new}
    rest = list(old)
    for one in new:
        if one.name not in stay:
            why = "moved" if one.name in was else "new"
            yield Change(do=Deed.INSERT, section=one.name, bars=one.bars, at_bar=bar, why=why)
            bar += one.bars
            continue
        while rest[0].name != one.name:
            yield _cut_whole(rest.pop(0), now, bar)
        yield from _resized(rest.pop(0), one, bar)
        bar += one.bars
    for one in rest:
        yield _cut_whole(one, now, bar)


def _cut_whole(one: Stand, now: dict[str, Stand], bar: int) -> Change:
    why = "moved" if one.name in now else "gone"
    return Change(do=Deed.CUT, section=one.name, bars=one.bars, at_bar=bar, why=why)


def _resized(before: Stand, after: Stand, bar: int) -> Iterator[Change]:
    if before.time is not None and after.time is not None and before.time != after.time:
        kept = min(before.bars, after.bars)
        why = f"{before.time} becomes {after.time}"
        yield Change(do=Deed.RETIME, section=after.name, bars=kept, at_bar=bar, why=why)
    more = after.bars - before.bars
    if more > 0:
        yield Change(do=Deed.INSERT, section=after.name, bars=more, at_bar=bar + before.bars, why="longer")
    elif more < 0:
        yield Change(do=Deed.CUT, section=after.name, bars=-more, at_bar=bar + after.bars, why="shorter")


def _staying(old: list[str], new: list[str]) -> frozenset[str]:
    """Return the names of a longest row that stands in both in the same order."""
    best = [[0] * (len(new) + 1) for _ in range(len(old) + 1)]
    for i in range(len(old) - 1, -1, -1):
        for j in range(len(new) - 1, -1, -1):
            both = best[i + 1][j + 1] + 1 if old[i] == new[j] else 0
            best[i][j] = max(both, best[i + 1][j], best[i][j + 1])
    found: set[str] = set()
    i = j = 0
    while i < len(old) and j < len(new):
        if old[i] == new[j]:
            found.add(old[i])
            i, j = i + 1, j + 1
        elif best[i + 1][j] >= best[i][j + 1]:
            i += 1
        else:
            j += 1
    return frozenset(found)
