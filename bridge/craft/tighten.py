"""Tightening: a row of shrinking cycles, 5 4 3 2, that fills its bars exactly.

That a build gains urgency when its cycles shorten, and that players take the same
number of turns of each, is common practice, no source; so is a build whose stages each
last half as long as the one before.  This file knows nothing about sections or plans:
it fills a number of bars, and the layer is home at each turn's start and at the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import accumulate, islice, pairwise
from itertools import cycle as cycle_through
from math import gcd, lcm

from bridge.craft.fill import as_bits, best_split, reachable, set_bits
from bridge.cycles import Layer
from bridge.errors import PlanError
from bridge.exact import Bars, Length, Meters, Ratio

__all__ = [
    "Share",
    "Stage",
    "Tighten",
    "Tightened",
    "Unfilled",
    "before_tightening",
    "good_bars",
    "tighten",
    "written",
]

_HALF = Ratio("1/2")
_MOST_STEPS = 2**20
_MOST_CYCLES = 16


class Share(StrEnum):
    """How the stages of a tightening share its bars."""

    TURNS = "turns"
    """Exactly as many turns of each: what players do."""
    NEAR_TURNS = "near-turns"
    """As many turns of each as the length allows, give or take."""
    TIME = "time"
    """Each stage as long as any other."""
    QUICKENING = "quickening"
    """Each stage a fixed ratio of the one before, half as long unless said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tighten:
    """What is asked: the shrinking cycles, 2 to 16 of them, and how they share the bars.

    ``ratio`` (more than 0, less than 1) is for Share.QUICKENING; ``on_barlines`` asks
    that each stage end on a barline.
    """

    cycles: tuple[Length, ...]
    share: Share = Share.TURNS
    ratio: Ratio = _HALF
    on_barlines: bool = False

    def __post_init__(self) -> None:
        if not 2 <= len(self.cycles) <= _MOST_CYCLES:
            raise PlanError(f"a tightening has 2 to {_MOST_CYCLES} cycles, not {len(self.cycles)}")
        if min(self.cycles) <= Length(0):
            raise PlanError(f"the cycles of a tightening are more than 0, not {min(self.cycles)}")
        for before, after in pairwise(self.cycles):
            if after >= before:
                raise PlanError(
                    f"the cycles of a tightening shrink, but {after} follows {before}",
                    hint="Write each shorter than the one before, as in 5/8, 4/8, 3/8, 2/8.",
                )
        if not Ratio(0) < self.ratio < Ratio(1):
            raise PlanError(f"a quickening's ratio is more than 0 and less than 1, not {self.ratio}")

    @property
    def weights(self) -> tuple[Fraction, ...]:
        """What each stage's ideal time is proportional to."""
        if self.share is Share.TIME:
            return (Fraction(1),) * len(self.cycles)
        if self.share is Share.QUICKENING:
            return tuple(self.ratio.value**stage for stage in range(len(self.cycles)))
        return tuple(cycle.whole_notes for cycle in self.cycles)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """Whole turns of one cycle; ``start`` counts from where the tightening begins."""

    cycle: Length
    turns: int
    start: Length
    ideal: Length
    """How long this stage would last if turns could be split."""

    @property
    def length(self) -> Length:
        """How long it lasts."""
        return self.cycle * self.turns

    @property
    def end(self) -> Length:
        """Where it ends, from where the tightening begins."""
        return self.start + self.length


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightened:
    """A tightening that fills its bars exactly."""

    asked: Tighten
    bars: int
    length: Length
    stages: tuple[Stage, ...]

    @property
    def deviation(self) -> Length:
        """The sum, over the stages, of how far each one's time is from its ideal; 0 is perfect.

        Half of it is the time that stands in another stage than the ideal has it.
        """
        return sum((abs(stage.length - stage.ideal) for stage in self.stages), Length(0))

    @property
    def homes(self) -> Iterator[Length]:
        """Yield where each turn starts, from where the tightening begins."""
        for stage in self.stages:
            for turn in range(stage.turns):
                yield stage.start + stage.cycle * turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfilled:
    """No whole turns fill these bars; the nearest numbers of bars that can be filled.

    ``below`` is None when nothing shorter can, ``above`` when nothing up to the
    finest grid we count on can.
    """

    asked: Tighten
    bars: int
    below: int | None
    above: int | None

    @property
    def why(self) -> str:
        """Say what cannot be filled and what can."""
        near = [str(Bars(bars)) for bars in (self.below, self.above) if bars is not None]
        can = (
            f"nearest that can: {' and '.join(near)}" if near else "nor can any other number we can count to"
        )
        how = "equally many" if self.asked.share is Share.TURNS else "whole"
        where = ", each change on a barline" if self.asked.on_barlines else ""
        cycles = ", ".join(written(self.asked.cycles))
        return f"{Bars(self.bars)} cannot be filled with {how} turns of {cycles}{where}; {can}"


def written(cycles: tuple[Length, ...]) -> tuple[str, ...]:
    """Write cycles over one common unit, as players count them: 5/8, 4/8, 3/8, 2/8."""
    unit = lcm(*(cycle.whole_notes.denominator for cycle in cycles))
    return tuple(f"{cycle.whole_notes * unit}/{unit}" for cycle in cycles)


def tighten(asked: Tighten, bars: int, meters: Meters, *, first_bar: int = 1) -> Tightened | Unfilled:
    """Fill ``bars`` bars exactly with whole turns, one or more of each cycle, in order.

    Of all ways to fill them the deviation (see :class:`Tightened`) is the least there is,
    then the largest deviation of a single stage; Share.TURNS takes equal turns or none.
    The first bar is bar ``first_bar`` of the list of meters.  PlanError when the cycles
    and the meters share no grid of at most 2^20 steps over the bars.
    """
    if bars < 1:
        raise PlanError(f"a tightening lasts 1 bar or more, not {bars}")
    grid = _Grid.over(asked, bars, meters, first_bar)
    turns = _equal_turns(asked, grid) if asked.share is Share.TURNS else _near_turns(asked, grid)
    if turns is None:
        return _unfilled(asked, bars, meters, first_bar)
    return _tightened(asked, bars, grid, turns)


def before_tightening(layer: Layer, found: Tightened) -> Layer:
    """Return a layer that is home just where a section may end that ends with ``found``.

    ``layer`` is the part as it plays before: its last turn must be whole when the
    tightening begins, so the section may end that much after any of its homes.  Put in
    its place among the layers to be resolved, it gives the section's good lengths.
    """
    return replace(layer, start=layer.start + found.length)


def good_bars(asked: Tighten, up_to: int, meters: Meters, *, first_bar: int = 1) -> tuple[int, ...]:
    """Return every number of bars from 1 to ``up_to`` that whole turns can fill, rising."""
    return _good_on(asked, _Grid.over(asked, up_to, meters, first_bar))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """The cycles and barlines counted in whole steps of one common unit."""

    unit: Length
    cycles: tuple[int, ...]
    barlines: tuple[int, ...]
    """The step of every barline, the first being 0."""

    @classmethod
    def over(cls, asked: Tighten, bars: int, meters: Meters, first_bar: int) -> _Grid:
        """Count ``bars`` bars and the cycles in their finest common note; PlanError when that is too fine."""
        row = [meters.bar(first_bar + bar).length.whole_notes for bar in range(len(meters.row))]
        cycles = [cycle.whole_notes for cycle in asked.cycles]
        finest = lcm(*(length.denominator for length in (*row, *cycles)))
        passes, rest = divmod(bars, len(row))
        steps = int((passes * sum(row) + sum(row[:rest])) * finest)
        if steps > _MOST_STEPS:
            raise PlanError(
                f"{bars} bars are {steps} steps of 1/{finest}, the grid on which these cycles stand; "
                f"at most {_MOST_STEPS} are counted",
                hint="Take fewer bars, or cycles with smaller denominators.",
            )
        in_steps = cycle_through(int(length * finest) for length in row)
        return cls(
            unit=Length(Fraction(1, finest)),
            cycles=tuple(int(cycle * finest) for cycle in cycles),
            barlines=tuple(accumulate(islice(in_steps, bars), initial=0)),
        )

    @property
    def barline_bits(self) -> int:
        """The barlines as bits."""
        return as_bits(self.barlines)

    @property
    def steps(self) -> int:
        """The last barline."""
        return self.barlines[-1]


def _equal_turns(asked: Tighten, grid: _Grid) -> tuple[int, ...] | None:
    turns, rest = divmod(grid.steps, sum(grid.cycles))
    if rest or not turns or (asked.on_barlines and not _changes_on_barlines(grid, turns, set(grid.barlines))):
        return None
    return (turns,) * len(grid.cycles)


def _changes_on_barlines(grid: _Grid, turns: int, barlines: set[int]) -> bool:
    end = 0
    for cycle in grid.cycles:
        end += turns * cycle
        if end not in barlines:
            return False
    return True


def _near_turns(asked: Tighten, grid: _Grid) -> tuple[int, ...] | None:
    weights = asked.weights
    scale = lcm(*(weight.denominator for weight in weights))
    split = best_split(
        grid.cycles,
        grid.steps,
        [int(weight * scale) for weight in weights],
        changes=grid.barline_bits if asked.on_barlines else None,
    )
    return None if split is None else split.turns


def _tightened(asked: Tighten, bars: int, grid: _Grid, turns: tuple[int, ...]) -> Tightened:
    length = grid.unit * grid.steps
    whole = sum(asked.weights)
    stages = []
    start = Length(0)
    for cycle, count, weight in zip(asked.cycles, turns, asked.weights, strict=True):
        ideal = length * Ratio(weight / whole)
        stages.append(Stage(cycle=cycle, turns=count, start=start, ideal=ideal))
        start = stages[-1].end
    return Tightened(asked=asked, bars=bars, length=length, stages=tuple(stages))


def _good_on(asked: Tighten, grid: _Grid) -> tuple[int, ...]:
    if asked.share is not Share.TURNS:
        barlines_only = grid.barline_bits
        ends = reachable(grid.cycles, up_to=grid.steps, changes=barlines_only if asked.on_barlines else None)[
            -1
        ]
        filled = set(set_bits(ends & barlines_only))
        return tuple(bar for bar, step in enumerate(grid.barlines) if bar and step in filled)
    barlines = set(grid.barlines)
    one = sum(grid.cycles)
    return tuple(
        bar
        for bar, step in enumerate(grid.barlines)
        if bar
        and step % one == 0
        and (not asked.on_barlines or _changes_on_barlines(grid, step // one, barlines))
    )


def _unfilled(asked: Tighten, bars: int, meters: Meters, first_bar: int) -> Unfilled:
    """Find the nearest numbers of bars that can be filled, on both sides.

    Bars that hold a whole number of turns of every cycle and whole passes through the
    meters can always be filled, so one number above is never further away than
    :func:`_always_filled`; where the grid cannot reach so far, it reaches as far as it can.
    """
    below = good_bars(asked, bars, meters, first_bar=first_bar)
    above = None
    reach = bars
    furthest = min(bars + _always_filled(asked, meters), _most_bars(asked, meters, bars, first_bar))
    while above is None and reach < furthest:
        reach = min(furthest, 2 * reach + len(meters.row))
        good = good_bars(asked, reach, meters, first_bar=first_bar)
        above = next((bar for bar in good if bar > bars), None)
    return Unfilled(asked=asked, bars=bars, below=below[-1] if below else None, above=above)


def _always_filled(asked: Tighten, meters: Meters) -> int:
    """Return a number of bars whose every multiple can be filled, whatever is asked."""
    row = meters.length.whole_notes
    finest = lcm(row.denominator, *(cycle.whole_notes.denominator for cycle in asked.cycles))
    ends = [Fraction(0)]
    for cycle in asked.cycles:
        ends.append(ends[-1] + cycle.whole_notes)
    # Equal turns, n of each, change at n·(first cycle), n·(first two) ...: all on barlines
    # for each n that makes those whole passes through the meters.
    one_pass = int(row * finest)
    turns = lcm(*(one_pass // gcd(int(end * finest), one_pass) for end in ends[1:]))
    return int(turns * ends[-1] / row) * len(meters.row)


def _most_bars(asked: Tighten, meters: Meters, bars: int, first_bar: int) -> int:
    """Return how many bars the grid's most steps hold."""
    one_pass = _Grid.over(asked, len(meters.row), meters, first_bar).steps
    return max(bars, _MOST_STEPS // one_pass * len(meters.row))
