"""What planning a song can come to: solved, impossible, or not known within the budget.

This file knows nothing about how the answer was found.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import Where

__all__ = ["Demand", "Infeasible", "Outcome", "Relaxation", "Solved", "Unknown"]

_LEAST_SCALE = Fraction(1)
"""The gap is taken relative to the cost, but never to less than one second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """One hard demand of the plan, in words, and the line it stands on."""

    text: str
    section: int | None = None
    where: Where | None = None
    kind: str | None = None
    """The key of the plan file under which it stands; ``day`` for the 24 hours of a song."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Relaxation:
    """The least that one demand of a conflict would have to give way for the others to hold."""

    text: str
    demand: Demand


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """Bars for every section, what they cost, and what is proven about that.

    ``cost`` and ``bound`` are weighted seconds, exact; no plan costs less than ``bound``.
    """

    bars: tuple[int, ...]
    cost: Fraction
    bound: Fraction
    tempo: Fraction | None = None
    """The tempo chosen, in quarter notes a minute, where the plan leaves it open in a range."""

    @property
    def proven(self) -> bool:
        """Whether no plan can cost less."""
        return self.cost == self.bound

    @property
    def gap(self) -> Fraction:
        """How far from the optimum at most: (cost - bound) / max(cost, 1 s)."""
        return (self.cost - self.bound) / max(self.cost, _LEAST_SCALE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Infeasible:
    """Nothing fits: demands of which none can be left out, and what would help."""

    conflict: tuple[Demand, ...]
    relaxations: tuple[Relaxation, ...]
    irreducible: bool = True
    """Whether each was proven needed; False where the budget ended first."""
    tempo: Fraction | None = None
    """Where nothing fits at any tempo of a range: the one at which this was found out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """Neither a plan nor a proof that there is none within the budget of steps."""

    steps: int


Outcome = Solved | Infeasible | Unknown
