"""How the markers that stand in a host differ from the plan, and what lengths they make.

Bars are counted on the barlines of the plan as it was laid: those of the host move only
when its meters do.  This file knows nothing about sockets, nor about plan files.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from bridge.exact import Place
from bridge.hostmap import MarkerHeard, Ruler, Unit
from bridge.lay.owner import Survey, survey
from bridge.lay.record import Entry
from bridge.lay.wanted import FARTHEST, SAMPLE, Wanted
from bridge.plan import Plan
from bridge.song import Song, unroll

__all__ = ["Difference", "ReadBack", "Standing", "read_back"]

_FARTHEST_GOOD = 512
"""Bars: good lengths farther off than this are no help."""


class Standing(StrEnum):
    """How a marker of the plan stands in the host."""

    IN_PLACE = "in_place"
    MOVED = "moved"
    """The user moved it: the record has it elsewhere."""
    ELSEWHERE = "elsewhere"
    """It stands where it was laid; the plan has changed since."""
    UNCLEAR = "unclear"
    """Several have its name, and nothing tells which is ours."""
    MISSING = "missing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One marker of the plan, and where it stands in the host."""

    name: str
    index: int
    standing: Standing
    planned_bar: int
    """The host's bar on which the plan wants it."""
    bar: int | None
    """The host's bar on which it stands; None where it stands on no barline, or not at all."""
    at: str | None
    """Where it stands, in the host's bars and beats; None where it does not."""
    home: bool | None = None
    """Whether all that are to be are home there; None where it cannot be told."""
    nearest: tuple[int, ...] = ()
    """Where they are not: the nearest bars of the host at which they are, one before and one after."""

    @property
    def moved_bars(self) -> int | None:
        """By how many bars it stands later (or, below 0, earlier) than planned."""
        return None if self.bar is None else self.bar - self.planned_bar


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBack:
    """What the host's markers say about the plan."""

    differences: tuple[Difference, ...]
    """One for each marker of the plan, in its order."""
    lengths: tuple[int | None, ...]
    """The bars of each section as the markers have them; None where a border is not known."""
    others: int
    """Markers in the host that are none of the plan's."""

    @property
    def agrees(self) -> bool:
        """Whether every marker stands where the plan wants it."""
        return all(one.standing is Standing.IN_PLACE for one in self.differences)


def read_back(
    ruler: Ruler, unit: Unit, wanted: Sequence[Wanted], entries: Sequence[Entry],
    standing: tuple[MarkerHeard, ...],
) -> ReadBack:  # fmt: skip
    """Compare what stands in the host, told in ``unit``, with the plan."""
    found = survey(wanted, entries, standing)
    matched = dict(_matched(wanted, entries, found))
    origin = ruler.song.plan.origin.bar
    plain = [_difference(ruler, unit, one, *matched[one.index]) for one in wanted]
    bars = [None if one.bar is None else one.bar - origin + 1 for one in plain]
    lengths = tuple(_length(*pair) for pair in pairwise(bars))
    judged = tuple(_judged(ruler.song, one, lengths) for one in plain)
    used = sum(told is not None for _, told in matched.values())
    return ReadBack(differences=judged, lengths=lengths, others=len(standing) - used)


def _matched(
    wanted: Sequence[Wanted], entries: Sequence[Entry], found: Survey
) -> Iterator[tuple[int, tuple[Standing, MarkerHeard | None]]]:
    """Find for each wanted marker the one that it has become."""
    used = set(found.met.values())
    for one in wanted:
        if one.index in found.met:
            yield one.index, (Standing.IN_PLACE, found.standing[found.met[one.index]])
            continue
        moved = [m for e, m in found.moved.items() if entries[e].name == one.name and m not in used]
        ours = [m for m in found.owner if found.standing[m].name == one.name and m not in used]
        named = [m for m, told in enumerate(found.standing) if told.name == one.name and m not in used]
        kind = Standing.MOVED if moved or not ours else Standing.ELSEWHERE
        candidates = moved or ours or named
        if len(candidates) == 1:
            used.add(candidates[0])
            yield one.index, (kind, found.standing[candidates[0]])
        else:
            yield one.index, (Standing.UNCLEAR if candidates else Standing.MISSING, None)


def _difference(
    ruler: Ruler, unit: Unit, wanted: Wanted, kind: Standing, told: MarkerHeard | None
) -> Difference:
    planned = ruler.count.bar_beat(wanted.place).bar
    bar, at = None, None
    if told is not None:
        place = ruler.place(told.at.value, unit)
        line = wanted.place if kind is Standing.IN_PLACE else _barline(ruler, unit, told, place)
        bar = None if line is None else ruler.count.bar_beat(line).bar
        at = _shown(ruler, place if line is None else line)
    return Difference(
        name=wanted.name, index=wanted.index, standing=kind, planned_bar=planned, bar=bar, at=at
    )


def _shown(ruler: Ruler, place: Place) -> str:
    """Return a place in the host's bars and beats, the beat with two digits where it is not whole."""
    found = ruler.count.bar_beat(place)
    if not found.plus:
        return f"{found.bar}.{found.beat}"
    bar = ruler.song.bars.bar_at(place)
    return f"{found.bar}.{float(found.beat + (found.plus / bar.meter.beat).value):.2f}"


def _barline(ruler: Ruler, unit: Unit, told: MarkerHeard, place: Place) -> Place | None:
    """Return the barline that a marker stands on, as finely as it is told; None where on none."""
    bars = ruler.song.bars
    number = bars.bar_at(place).number
    for line in (bars.start_of(number), bars.start_of(number + 1)):
        fewer, more = ruler.units_a_second(line, unit)
        near = min(FARTHEST * fewer, max(told.at.step, SAMPLE * more))
        if abs(ruler.value(line, unit) - told.at.value) <= near:
            return line
    return None


def _length(start: int | None, end: int | None) -> int | None:
    return None if start is None or end is None else end - start


def _judged(song: Song, one: Difference, lengths: Sequence[int | None]) -> Difference:
    """Add whether the layers are home where a marker stands, and where else they would be."""
    before = one.index - 1
    known = lengths[: one.index]
    if before < 0 or any(bars is None or bars < 1 for bars in known):
        return one
    bars = [bars for bars in known if bars is not None]
    home = _is_home(song.plan, bars, before)
    if home:
        return replace(one, home=True)
    steps = [_nearest(song.plan, bars, before, step) for step in (-1, 1)]
    start = (one.bar or 0) - bars[before]
    return replace(one, home=False, nearest=tuple(start + good for good in steps if good is not None))


def _nearest(plan: Plan, bars: list[int], index: int, step: int) -> int | None:
    for off in range(1, _FARTHEST_GOOD + 1):
        length = bars[index] + step * off
        if length < 1:
            return None
        if _is_home(plan, [*bars[:index], length], index):
            return length
    return None


def _is_home(plan: Plan, bars: list[int], index: int) -> bool:
    """Whether all that are to be home at the end of a section are, given the bars up to there."""
    rest = [1] * (len(plan.sections) - len(bars))
    return unroll(plan, [*bars, *rest]).sections[index].resolved
