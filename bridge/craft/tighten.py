"""Tightening: how many whole turns of a row of shrinking cycles fill some bars exactly.

The layer is home at each turn's start and at the end.  This file knows nothing about
sections or plans: it fills a number of bars.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import gcd, lcm

from bridge.craft.fill import best_split, reachable, set_bits
from bridge.craft.grid import Grid
from bridge.craft.stages import Share, Stage, Tighten, Tightened, Unfilled
from bridge.cycles import Layer
from bridge.errors import PlanError
from bridge.exact import Length, Meters, Ratio

__all__ = ["before_tightening", "good_bars", "tighten"]


def tighten(asked: Tighten, bars: int, meters: Meters, *, first_bar: int = 1) -> Tightened | Unfilled:
    """Fill ``bars`` bars exactly with whole turns, one or more of each cycle, in order.

    Of all ways to fill them the deviation (see :class:`Tightened`) is the least there is,
    then the largest deviation of a single stage; Share.TURNS takes equal turns or none.
    The first bar is bar ``first_bar`` of the list of meters.  PlanError when the cycles
    and the meters share no grid of at most 2^20 steps over the bars.
    """
    if bars < 1:
        raise PlanError(f"a tightening lasts 1 bar or more, not {bars}")
    grid = Grid.over(asked, bars, meters, first_bar)
    turns = _equal_turns(asked, grid) if asked.share is Share.TURNS else _near_turns(asked, grid)
    if turns is None:
        return _unfilled(asked, bars, meters, first_bar, fits=grid.fits(meters))
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
    return _good_on(asked, Grid.over(asked, up_to, meters, first_bar))


def _equal_turns(asked: Tighten, grid: Grid) -> tuple[int, ...] | None:
    turns, rest = divmod(grid.steps, sum(grid.cycles))
    if rest or not turns or (asked.on_barlines and not _changes_on_barlines(grid, turns, set(grid.barlines))):
        return None
    return (turns,) * len(grid.cycles)


def _changes_on_barlines(grid: Grid, turns: int, barlines: set[int]) -> bool:
    end = 0
    for cycle in grid.cycles:
        end += turns * cycle
        if end not in barlines:
            return False
    return True


def _near_turns(asked: Tighten, grid: Grid) -> tuple[int, ...] | None:
    weights = asked.weights
    scale = lcm(*(weight.denominator for weight in weights))
    split = best_split(
        grid.cycles,
        grid.steps,
        [int(weight * scale) for weight in weights],
        changes=grid.barline_bits if asked.on_barlines else None,
    )
    return None if split is None else split.turns


def _tightened(asked: Tighten, bars: int, grid: Grid, turns: tuple[int, ...]) -> Tightened:
    length = grid.unit * grid.steps
    whole = sum(asked.weights)
    stages = []
    start = Length(0)
    for cycle, count, weight in zip(asked.cycles, turns, asked.weights, strict=True):
        ideal = length * Ratio(weight / whole)
        stages.append(Stage(cycle=cycle, turns=count, start=start, ideal=ideal))
        start = stages[-1].end
    return Tightened(asked=asked, bars=bars, length=length, stages=tuple(stages))


def _good_on(asked: Tighten, grid: Grid) -> tuple[int, ...]:
    if asked.share is not Share.TURNS:
        barlines_only = grid.barline_bits
        changes = barlines_only if asked.on_barlines else None
        ends = reachable(grid.cycles, up_to=grid.steps, changes=changes)[-1]
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


def _unfilled(asked: Tighten, bars: int, meters: Meters, first_bar: int, *, fits: int) -> Unfilled:
    """Find the nearest numbers of bars that can be filled, on both sides.

    Bars that hold a whole number of turns of every cycle and whole passes through the
    meters can always be filled, so one number above is never further away than
    :func:`_always_filled`; where the grid cannot reach so far, it reaches as far as it can.
    """
    below = good_bars(asked, bars, meters, first_bar=first_bar)
    above = None
    reach = bars
    furthest = min(bars + _always_filled(asked, meters), fits)
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
