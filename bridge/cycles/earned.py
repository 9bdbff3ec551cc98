"""Landings that are earned: cycles whose first full meeting with the others is the end.

This file knows nothing about bars or tempo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.cycles.layer import Layer
from bridge.cycles.meetings import Meetings, meetings, never
from bridge.cycles.words import in_words
from bridge.errors import PlanError
from bridge.exact import Length

__all__ = ["Earned", "earned_cycles"]

_MOST_STEPS = 10**12
"""The most grid steps in a span whose divisors are looked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Earned:
    """The cycles found, shortest first; ``why`` says why there is none."""

    cycles: tuple[Length, ...]
    why: str | None = None


def earned_cycles(span: Length, others: Sequence[Layer], *, grid: Length) -> Earned:
    """Return the cycles, in multiples of ``grid``, that meet all ``others`` first at the end of ``span``.

    The new layer is home at the start, and so are the others at their own first homes; the
    first full meeting strictly after the start is the end.  The span itself is always one, where
    the others are home at its end and the grid divides it.  ``span`` and ``grid`` are more
    than 0; PlanError when the grid is too fine for the span.
    """
    together = meetings(others)
    if together is None:
        return Earned(cycles=(), why=str(never(others)))
    if span not in together:
        return Earned(cycles=(), why=_others_miss(span, together))
    if span % grid:
        why = f"the span of {in_words(span)} is no multiple of the grid, {grid}"
        return Earned(cycles=(), why=f"{why}; {_nearest_grid(span)} divides it")
    steps = span // grid
    if steps > _MOST_STEPS:
        raise PlanError(
            f"the grid of {grid} fits {steps} times into the span; at most {_MOST_STEPS} are looked through",
            hint="Ask for a coarser grid.",
        )
    cycles = (grid * divisor for divisor in _divisors(steps))
    found = tuple(cycle for cycle in cycles if _first_meeting(cycle, others) == span)
    return Earned(cycles=found)


def _first_meeting(cycle: Length, others: Sequence[Layer]) -> Length | None:
    """Return the first full meeting strictly after the start."""
    found = meetings([*others, Layer(name="for", cycle=cycle)])
    if found is None:
        return None
    return found.first or found.every


def _divisors(number: int) -> list[int]:
    """Return all divisors of ``number`` in rising order, by trial division."""
    divisors, rest, prime = [1], number, 2
    while prime * prime <= rest:
        power, grown = 1, list(divisors)
        while rest % prime == 0:
            rest //= prime
            power *= prime
            grown += [divisor * power for divisor in divisors]
        divisors = grown
        prime += 1 if prime == 2 else 2
    if rest > 1:
        divisors += [divisor * rest for divisor in divisors]
    return sorted(divisors)


def _others_miss(span: Length, together: Meetings) -> str:
    after = together.at_or_after(span)
    said = f"the others are not home together at the end, {in_words(span)} from the start: they meet"
    if after == together.first:
        return f"{said} first at {after}"
    return f"{said} at {after - together.every} and at {after}"


def _nearest_grid(span: Length) -> Length:
    return Length(1) / span.whole_notes.denominator
