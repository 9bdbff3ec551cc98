"""What a plan may say about readings on its form: their names, and an acceptance with its reason.

Only the names and the units of their limits stand here, so that a plan that names one
wrongly is refused where it stands.  What a reading looks for, and what its limit is, is
the business of :mod:`bridge.form`; this file knows nothing about either.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from bridge.errors import Where

__all__ = ["READINGS", "Accept", "Measure"]


class Measure(StrEnum):
    """The unit in which a reading measures, and in which its limit is given."""

    SECONDS = "seconds"
    POINTS = "points"
    """Points of energy, 0 to 100."""
    SHARE = "share"
    """A part of the whole, 0 to 1."""
    TIMES = "times"
    """How many times as long."""
    COUNT = "count"


READINGS: Mapping[str, Measure] = {
    "narrow range": Measure.POINTS,
    "one level": Measure.SECONDS,
    "undecided end": Measure.POINTS,
    "payoff out of reach": Measure.SECONDS,
    "no sign": Measure.SECONDS,
    "short payoff": Measure.TIMES,
    "low payoff": Measure.POINTS,
    "nobody alone": Measure.SECONDS,
    "always tutti": Measure.SHARE,
    "too busy": Measure.SECONDS,
    "nothing new": Measure.COUNT,
    "nothing returns": Measure.COUNT,
    "no change": Measure.SECONDS,
    "never apart": Measure.SECONDS,
    "landing given away": Measure.COUNT,
    "change away from home": Measure.COUNT,
}
"""Every reading by name, with what its limit counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accept:
    """The writer means it so: a reading that is not to be raised, and why.

    With a ``threshold``, in the reading's own unit, only as far as that; without one,
    however far it goes.
    """

    reading: str
    because: str
    threshold: Fraction | None = None
    where: Where | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        if self.reading not in READINGS:
            raise ValueError(f"no reading is called {self.reading!r}")
