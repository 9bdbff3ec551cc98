"""The units in which hosts tell places: quarters, seconds, samples at a rate, bars ...

Ticks are musical, so many a quarter note.  This file knows nothing about songs.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bridge.errors import PlanError
from bridge.exact import parse_whole

__all__ = ["SAMPLES_A_SECOND", "TICKS_A_QUARTER", "Measure", "Unit"]

SAMPLES_A_SECOND = 48_000
TICKS_A_QUARTER = 960
_FASTEST = 10_000_000


class Measure(StrEnum):
    """What a place is counted in."""

    QUARTERS = "quarters"
    WHOLE_NOTES = "whole_notes"
    SECONDS = "seconds"
    SAMPLES = "samples"
    TICKS = "ticks"
    BARS = "bars"


_DEFAULT_RATE = {Measure.SAMPLES: SAMPLES_A_SECOND, Measure.TICKS: TICKS_A_QUARTER}


@dataclass(frozen=True, slots=True)
class Unit:
    """A measure, with its rate: samples a second, ticks a quarter; 0 for the others."""

    measure: Measure
    rate: int = 0

    @classmethod
    def parse(cls, text: str) -> Unit:
        """Read ``quarters``, ``samples@44100`` or ``ticks@960``; PlanError for anything else."""
        word, at, rate = text.partition("@")
        try:
            measure = Measure(word.strip())
        except ValueError:
            raise PlanError(
                f"a unit cannot be {text[:40]!r}; allowed are {', '.join(Measure)}",
                hint="Samples and ticks name their rate, as in samples@48000 and ticks@960.",
            ) from None
        if not at:
            return cls(measure, _DEFAULT_RATE.get(measure, 0))
        if measure not in _DEFAULT_RATE:
            raise PlanError(f"{measure} have no rate: {text[:40]!r}", hint=f"Write {measure} alone.")
        number = parse_whole(rate, what=f"the rate of {measure}", least=1)
        if number > _FASTEST:
            raise PlanError(f"the rate of {measure} is at most {_FASTEST}, not {rate[:40]!r}")
        return cls(measure, number)

    @property
    def of_time(self) -> bool:
        """Whether a place in it depends on the host's tempo."""
        return self.measure in (Measure.SECONDS, Measure.SAMPLES)

    def __str__(self) -> str:
        return f"{self.measure}@{self.rate}" if self.rate else str(self.measure)
