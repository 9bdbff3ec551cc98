"""How strong each step of a bar is, by the tree of its meter.

Weights are those of Longuet-Higgins and Lee (1984): the barline has 0, each level of
division below it one less.  4/4 in eighths is 0 -3 -2 -3 -1 -3 -2 -3.  An additive meter
divides into its groups, then into units; a compound one into beats of three.  This file
knows nothing about patterns.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import prod

from bridge.errors import PlanError
from bridge.exact import Length, Meter, Meters

__all__ = ["bar_weights", "beat_steps", "own_weights", "steps_in", "weights", "weights_of_bars"]


def weights(divisions: Sequence[int]) -> tuple[int, ...]:
    """Return the weight of each step of a span divided by each of ``divisions`` in turn.

    (2, 2, 2) is 4/4 in eighths, (3, 2) 3/4 and (2, 3) 6/8 in eighths.
    """
    steps = prod(divisions)
    found: dict[int, int] = {}
    apart = steps
    for level, division in enumerate((1, *divisions)):
        apart //= division
        for step in range(0, steps, apart):
            found.setdefault(step, -level)
    return tuple(found[step] for step in range(steps))


def bar_weights(meter: Meter, unit: Length) -> tuple[int, ...]:
    """Return the weight of each step of one bar; PlanError where ``unit`` does not divide its note."""
    below = _primes(_per_note(meter, unit))
    if len(meter.groups) == 1:
        return weights((*_divisions(meter.top), *below))
    found = []
    for group in meter.groups:
        inside = [weight - 2 for weight in weights(below)] * group
        inside[0] += 1
        found += inside
    found[0] = 0
    return tuple(found)


def weights_of_bars(meters: Meters, unit: Length, steps: int) -> tuple[int, ...] | None:
    """Return the weights of ``steps`` steps from where the meters begin.

    None unless they are whole bars, and each meter's note is whole steps.
    """
    found: list[int] = []
    bar = 1
    while len(found) < steps:
        meter = meters.bar(bar)
        if steps_in(meter.beat, unit) is None or meter.length > unit * (steps - len(found)):
            return None
        found += bar_weights(meter, unit)
        bar += 1
    return tuple(found)


def own_weights(steps: int) -> tuple[int, ...]:
    """Return the weights of a cycle that stands on its own: divided by its primes, twos first."""
    return weights(_primes(steps))


def beat_steps(meter: Meter, unit: Length) -> int | None:
    """Return the steps in one counted beat; None where a bar's beats differ or hold no whole steps."""
    if len(set(meter.groups)) > 1:
        return None
    if len(meter.groups) > 1:
        return steps_in(meter.beat * meter.groups[0], unit)
    return steps_in(meter.beat * (3 if _is_compound(meter.top) else 1), unit)


def steps_in(length: Length, unit: Length) -> int | None:
    """Return how many steps of ``unit`` fill ``length``, or None where no whole number does."""
    count = (length / unit).value
    return count.numerator if count.denominator == 1 else None


def _per_note(meter: Meter, unit: Length) -> int:
    count = steps_in(meter.beat, unit)
    if count is None:
        raise PlanError(
            f"steps of {unit} do not divide the {meter.beat} of {meter}",
            hint=f"Take steps of {meter.beat}, or a part of it such as {meter.beat / 2}.",
        )
    return count


def _divisions(top: int) -> tuple[int, ...]:
    """Divide a bar's upper number: a compound one into beats of three, last."""
    return (*_primes(top // 3), 3) if _is_compound(top) else _primes(top)


def _is_compound(top: int) -> bool:
    return top > 3 and top % 3 == 0


def _primes(number: int) -> tuple[int, ...]:
    found = []
    prime = 2
    while number > 1:
        while number % prime == 0:
            found.append(prime)
            number //= prime
        prime += 1
    return tuple(found)
