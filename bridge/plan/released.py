"""What goes on until somebody ends it: a vamp, held until released, and a passage without bars.

On the bar axis a free passage is as few whole bars of its meter as every format has a tempo for
(one, up to a minute of 4/4), at the tempo at which they last exactly as long as it is said to: so
places, bar numbers and totals stay exact.  This file knows nothing about sections or YAML.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import FASTEST, Length, Meters, Span, Tempo, show_number

__all__ = ["Free", "Vamp"]

_SLOWEST = Fraction(4)
"""Quarter notes a minute: a Standard MIDI File (RP-001, 1996) has 24 bits of microseconds a quarter, so
that it holds nothing slower than 3.58."""
_SECONDS_PER_WHOLE_NOTE = 240
"""At one quarter note a minute."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vamp:
    """A section that is held until it is released; to the planner one like any other."""

    at_least: Span | None = None
    """Never planned shorter; the wish as well, where there is no other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Free:
    """A passage without bars or click, of so many seconds; no cycle turns in it."""

    about: Fraction
    """Its seconds, more than 0; the plan counts them exactly."""
    layers: tuple[str, ...] = ()
    """Who plays in it, in the order of the plan's layers; they have no turns, homes or notes there."""

    def __post_init__(self) -> None:
        if self.about <= 0:
            raise ValueError(f"a free passage lasts longer than 0 seconds, not {self.about}")

    def on_the_bar_axis(self, meters: Meters) -> tuple[int, Tempo]:
        """Return the bars of ``meters`` that stand for it, and the tempo at which they last exactly as long.

        PlanError where it is so short that even one bar would be faster than any tempo.
        """
        least = Length(self.about * _SLOWEST / _SECONDS_PER_WHOLE_NOTE)
        whole = meters.bars_within(least)
        bars = whole if whole and meters.of_bars(whole) == least else whole + 1
        notes = meters.of_bars(bars).whole_notes
        bpm = notes * _SECONDS_PER_WHOLE_NOTE / self.about
        if bpm > FASTEST:
            shortest = notes * _SECONDS_PER_WHOLE_NOTE / FASTEST
            raise PlanError(
                f"a free passage of {show_number(self.about)} s is too short for a bar in {meters.bar(1)}",
                hint=f"Make it {show_number(shortest)} s or longer: a bar's tempo is at most {FASTEST}.",
            )
        return bars, Tempo.constant(bpm)
