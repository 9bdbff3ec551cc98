"""A layer as the plan gives it, and what may be other about it in one section.

It may have another cycle there, come in later or leave earlier, or tighten towards the
section's end.  This file knows nothing about sections or YAML.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate

from bridge.craft.pattern import Pattern
from bridge.craft.stages import Tightened
from bridge.cycles import Kind, Layer, fixed_cycle
from bridge.errors import Where
from bridge.exact import Bars, Length, Meters, Ratio

__all__ = ["LayerPlan", "Stay", "Tightening"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerPlan:
    """A layer as the plan gives it: its cycle may still be in bars, of a meter yet to come."""

    name: str
    cycle: Length | Bars
    start: Length
    rate: Ratio
    kind: Kind = Kind.CYCLE
    groups: tuple[int, ...] = ()
    """For Kind.GROUPS: the groups, in units."""
    pulses: int = 0
    """For Kind.PULSES: how many evenly spaced pulses fill the cycle."""
    pattern: Pattern | None = None
    """For Kind.PATTERN: who hits when; its steps divide the cycle evenly."""
    player: str | None = None
    where: Where | None = field(default=None, compare=False)
    """Where its cycle stands in the file."""

    def fixed(self, meters: Meters) -> Layer:
        """Return the layer once it first sounds in a section with these meters.

        PlanError when a cycle in bars is no multiple of a repeating list of meters,
        naming the nearest that is.
        """
        cycle = fixed_cycle(self.cycle, meters, name=self.name, where=self.where)
        return Layer(
            name=self.name,
            cycle=cycle,
            start=self.start,
            rate=self.rate,
            kind=self.kind,
            accents=tuple(cycle * Ratio(share) for share in self._accent_shares()),
        )

    def _accent_shares(self) -> tuple[Fraction, ...]:
        if self.kind is Kind.PULSES:
            return tuple(Fraction(pulse, self.pulses) for pulse in range(self.pulses))
        if self.pattern is not None:
            steps = len(self.pattern.steps)
            return tuple(Fraction(onset, steps) for onset in self.pattern.onsets)
        units = sum(self.groups)
        heads = accumulate(self.groups[:-1], initial=0)
        return tuple(Fraction(head, units or 1) for head in heads)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """When a layer sounds that does not sound in all of a section; both from the section's start."""

    enters: Length | None = None
    """Its time counts from here."""
    leaves: Length | None = None
    """Here it falls silent; its time goes on, as that of a tacet layer in a run does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightening:
    """A layer that shortens its cycle over the last bars of a section, in whole turns."""

    layer: str
    found: Tightened
    """How many turns of each cycle; ``found.bars`` bars of the section's meters."""
