"""Runs of sections: what has to be remembered about the layers that play on.

All layers that enter a run at the same section share one count of time, so what one
section hands to the next is one number for each such entry: the time since it, folded
modulo what anybody later in the run still asks about.  Time is counted in grains, the
largest note that divides everything in the run.  This file knows nothing about
seconds, costs or searching.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm

from bridge.cycles.layer import Layer
from bridge.cycles.lengths import good_lengths
from bridge.cycles.row import Row
from bridge.exact import Meters
from bridge.plan.model import Plan, Section
from bridge.shape.ladder import EVERY_BAR, NO_BARS, Ladder

__all__ = ["Carried", "Grain", "Home", "Part", "first_meeting", "read_run"]


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


def read_run(plan: Plan, run: tuple[Section, ...], resolving: set[int], once: set[int]) -> list[Part]:
    """Return the parts of one run; ``resolving`` and ``once`` are the sections whose demand holds."""
    entries = plan.entries(run)
    asked = {
        section.index: [name for name in section.resolve if section.index in resolving | once]
        for section in run
    }
    layers = {name: entries[name][1] for names in asked.values() for name in names}
    grains = _grains(run, list(layers.values()))
    counted = layers if len(run) > 1 or once else {}
    rows = {name: _row(layer, grains) for name, layer in counted.items()}
    parts = []
    for at, section in enumerate(run):
        later = {name for other in run[at + 1 :] for name in asked[other.index]}
        must = section.resolve if section.index in resolving else ()
        parts.append(
            Part(
                section=section,
                grain=_grain(section, grains),
                ladder=_ladder(section, [entries[n][1] for n in must if entries[n][0] is section]),
                homes=_homes(section, must, entries, rows),
                carries=_carried(at, run, later, entries, rows),
                once=tuple((entries[n][0].index, rows[n]) for n in section.resolve)
                if section.index in once
                else (),
            )
        )
    return parts


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


def _row(layer: Layer, grains: int) -> Row:
    first, step = Fraction(layer.start.whole_notes * grains), Fraction(layer.turn.whole_notes * grains)
    return Row(first.numerator, step.numerator)


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


def _homes(
    section: Section,
    must: Iterable[str],
    entries: dict[str, tuple[Section, Layer]],
    rows: dict[str, Row],
) -> tuple[Home, ...]:
    met: dict[int, Row | None] = {}
    for name in must:
        entry = entries[name][0].index
        if entry == section.index:
            continue
        before = met.get(entry, Row(0, 1))
        met[entry] = before.met(rows[name]) if before else None
    return tuple(Home(entry=entry, row=row) for entry, row in met.items())


def _carried(
    at: int,
    run: Sequence[Section],
    later: set[str],
    entries: dict[str, tuple[Section, Layer]],
    rows: dict[str, Row],
) -> tuple[Carried, ...]:
    carried = []
    for section in run[: at + 1]:
        needed = [rows[name] for name in later if entries[name][0] is section]
        if needed:
            least, modulus = max(row.first for row in needed), lcm(*(row.step for row in needed))
            carried.append(Carried(entry=section.index, least=least, modulus=modulus))
    return tuple(carried)
