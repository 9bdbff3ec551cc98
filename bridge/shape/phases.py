"""Runs of sections: what has to be remembered about the layers that play on.

All layers that enter a run at the same section share one count of time, so what one
section hands to the next is one number for each such entry: the time since it, folded
modulo what anybody later in the run still asks about.  Time is counted in grains, the
largest note that divides everything in the run.  This file knows nothing about
seconds, costs or searching.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import lcm

from bridge.craft.tighten import before_tightening
from bridge.cycles.layer import Layer
from bridge.cycles.lengths import good_lengths
from bridge.cycles.row import Row
from bridge.exact import Meters
from bridge.plan.model import Entry, Plan, Section
from bridge.shape.ladder import EVERY_BAR, NO_BARS, Ladder

__all__ = ["Carried", "Grain", "Held", "Home", "Part", "first_meeting", "read_run"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Home:
    """A carried entry's count must stand in ``row`` at the section's end; None: it never can."""

    entry: int
    row: Row | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """An entry's count that later sections need: ``entry`` is the section's index."""

    entry: int
    least: int
    modulus: int

    def folded(self, grains: int) -> int:
        """Return the number that stands for ``grains`` since the entry."""
        if grains < self.least:
            return grains
        return self.least + (grains - self.least) % self.modulus


@dataclass(frozen=True, slots=True, kw_only=True)
class Grain:
    """The meters of one section, counted in grains: ``starts`` of the bars of one pass."""

    starts: tuple[int, ...]
    """From 0 to the length of the whole pass: one more than there are meters."""

    def of_bars(self, bars: int) -> int:
        """Return the grains in the first ``bars`` bars."""
        passes, rest = divmod(bars, len(self.starts) - 1)
        return passes * self.starts[-1] + self.starts[rest]

    def bars_within(self, grains: int) -> int:
        """Return the whole bars that end at or before ``grains``."""
        passes, rest = divmod(grains, self.starts[-1])
        return passes * (len(self.starts) - 1) + bisect_right(self.starts, rest) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One section as its run sees it."""

    section: Section
    grain: Grain
    ladder: Ladder
    """The bars at which the layers that enter here are home, if they must be."""
    homes: tuple[Home, ...]
    """What the layers that entered before must reach at its end."""
    carries: tuple[Carried, ...]
    """What has to be remembered after it."""
    once: tuple[tuple[int, Row], ...]
    """With ``meets: once``: each layer's entry, and its homes since that entry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """The sections of a run, by index, whose demand of a kind holds."""

    resolving: frozenset[int] = frozenset()
    once: frozenset[int] = frozenset()
    tightening: frozenset[int] = frozenset()


@dataclass(frozen=True, kw_only=True)
class _Asked:
    """A layer that is asked about at a section's end, as one that counts from its entry."""

    entry: int
    layer: Layer
    grains: int
    must: bool
    """Whether it must be home there."""
    once: bool
    """Whether it must not meet the others before."""

    @cached_property
    def row(self) -> Row:
        """Its homes since its entry, in grains."""
        first, step = self.layer.start.whole_notes * self.grains, self.layer.turn.whole_notes * self.grains
        return Row(first.numerator, step.numerator)


def read_run(plan: Plan, run: tuple[Section, ...], held: Held) -> list[Part]:
    """Return the parts of one run under the demands that hold."""
    layers = [_layers_asked(*pair, held) for pair in zip(run, plan.counting(run), strict=True)]
    grains = _grains(run, [layer for found in layers for _, layer in found.values()])
    asked = [
        [_asked(section, name, found, grains, held) for name, found in its.items()]
        for section, its in zip(run, layers, strict=True)
    ]
    return [
        Part(
            section=section,
            grain=_grain(section, grains),
            ladder=_ladder(
                section, [one.layer for one in asked[at] if one.must and one.entry == section.index]
            ),
            homes=_homes(one for one in asked[at] if one.must and one.entry != section.index),
            carries=_carried(run[: at + 1], [one for later in asked[at + 1 :] for one in later]),
            once=tuple((one.entry, one.row) for one in asked[at] if one.once),
        )
        for at, section in enumerate(run)
    ]


def _layers_asked(
    section: Section, counting: Mapping[str, Entry], held: Held
) -> dict[str, tuple[int, Layer]]:
    """Name who is asked about at the section's end, each with its entry's section.

    One that tightens is home at the end that long after any of its own homes.
    """
    names = section.resolve if section.index in held.resolving | held.once else ()
    tighten = section.tighten if section.index in held.tightening else None
    if tighten is not None:
        names = tuple(dict.fromkeys((*names, tighten.layer)))
    found = {}
    for name in names:
        layer = counting[name].from_start
        if tighten is not None and name == tighten.layer:
            layer = before_tightening(layer, tighten.found)
        found[name] = (counting[name].section.index, layer)
    return found


def _tightens(section: Section, name: str) -> bool:
    return section.tighten is not None and section.tighten.layer == name


def _asked(section: Section, name: str, found: tuple[int, Layer], grains: int, held: Held) -> _Asked:
    entry, layer = found
    resolved = name in section.resolve
    return _Asked(
        entry=entry,
        layer=layer,
        grains=grains,
        must=(resolved and section.index in held.resolving)
        or (section.index in held.tightening and _tightens(section, name)),
        once=resolved and section.index in held.once,
    )


def first_meeting(counts: Iterable[tuple[int, Row]]) -> int | None:
    """Return the grains until all are next home together, later than now; None: never.

    Each is a count since its entry and the row of its homes since then.
    """
    together: Row | None = Row(1, 1)
    for count, homes in counts:
        if together is not None:
            together = together.met(Row(homes.first - count, homes.step))
    return together.first if together else None


def _grains(run: Sequence[Section], layers: Sequence[Layer]) -> int:
    """Return how many grains make a whole note."""
    lengths = [layer.turn.whole_notes for layer in layers] + [layer.start.whole_notes for layer in layers]
    lengths += [meter.length.whole_notes for section in run for meter in section.meters.row]
    return lcm(*(length.denominator for length in lengths))


def _grain(section: Section, grains: int) -> Grain:
    bars = range(len(section.meters.row) + 1)
    return Grain(starts=tuple(int(section.meters.of_bars(n).whole_notes * grains) for n in bars))


def _ladder(section: Section, entering: list[Layer]) -> Ladder:
    if not entering:
        return EVERY_BAR
    return _good(section.meters, tuple(entering))


@lru_cache(maxsize=1024)
def _good(meters: Meters, layers: tuple[Layer, ...]) -> Ladder:
    good = good_lengths(meters, layers)
    if good.period_bars is None:
        return NO_BARS
    return Ladder(firsts=good.firsts, period=good.period_bars)


def _homes(asked: Iterable[_Asked]) -> tuple[Home, ...]:
    met: dict[int, Row | None] = {}
    for one in asked:
        before = met.get(one.entry, Row(0, 1))
        met[one.entry] = before.met(one.row) if before else None
    return tuple(Home(entry=entry, row=row) for entry, row in met.items())


def _carried(so_far: Sequence[Section], later: Sequence[_Asked]) -> tuple[Carried, ...]:
    carried = []
    for section in so_far:
        needed = [one.row for one in later if one.entry == section.index]
        if needed:
            least, modulus = max(row.first for row in needed), lcm(*(row.step for row in needed))
            carried.append(Carried(entry=section.index, least=least, modulus=modulus))
    return tuple(carried)
