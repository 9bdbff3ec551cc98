"""What a tightening is: a row of shrinking cycles, how they share the bars, and the stages found.

That a build gains urgency when its cycles shorten, and that players take the same
number of turns of each, is common practice, no source; so is a build whose stages each
last half as long as the one before.  This file knows nothing about how stages are found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise
from math import lcm

from bridge.errors import PlanError
from bridge.exact import Bars, Length, Ratio

__all__ = ["Share", "Stage", "Tighten", "Tightened", "Unfilled", "written"]

_HALF = Ratio("1/2")
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
