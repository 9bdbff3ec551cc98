"""The lengths of one section that are worth looking at, at a price on its seconds.

The price turns cost into regret: ``cost - price·seconds``, less the least that any
length of the section has.  Both terms are convex in the length, so the lengths within
a given regret stand next to one another on the ladder and are found by halving.  Under
a ramp, seconds are rounded and convex only up to that rounding: the halving works on
the unrounded form, and its limits are widened by twice what rounding can do.  This
file knows nothing about other sections.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.shape.numbers import Exact
from bridge.shape.piece import Piece, Scale

__all__ = ["Price", "Window", "look"]

_MOST = 1 << 15
"""Lengths on either side of the best: more are not listed but accounted for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What a second of song is worth: ``top/bottom`` of a second's cost at weight 1.

    Regrets are counted in cost units over ``bottom``, so that they are whole.
    """

    top: int
    bottom: int
    per_weight: int

    @classmethod
    def of(cls, value: Fraction, scale: Scale) -> Price:
        """Return the price ``value``."""
        return cls(top=value.numerator, bottom=value.denominator, per_weight=scale.per_weight)

    @property
    def value(self) -> Fraction:
        """The price as a number."""
        return Fraction(self.top, self.bottom)

    @property
    def per_unit(self) -> int:
        """What one unit of seconds is worth, in units of regret."""
        return self.top * self.per_weight

    def charged(self, cost: Exact, seconds: Exact) -> Exact:
        """Return ``cost - price·seconds`` in units of regret."""
        return self.bottom * cost - self.per_unit * seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Lengths in rising order with their seconds and regrets, each within the reach asked for."""

    bars: list[int]
    seconds: list[int]
    regrets: list[Exact]
    base: Exact
    """The least of ``cost - price·seconds`` over the whole ladder, exact."""
    beyond: Exact | None
    """No length left out has less regret than this; None: none was left out."""


def look(piece: Piece, price: Price, reach: Exact | None) -> Window:
    """List the lengths of ``piece`` whose regret is at most ``reach`` (None: all of them)."""
    charged = _Charged(piece, price)
    ladder = piece.ladder
    bottom = charged.lowest_rung()
    low, high = ladder.first, ladder.top
    if reach is not None:
        limit = charged.smooth(bottom) + reach + 2 * charged.slack
        low, high = charged.first_within(low, bottom, limit), charged.last_within(bottom, high, limit)
    low, high = max(low, bottom - _MOST), min(high, bottom + _MOST)
    bars = [ladder.bars(rung) for rung in range(low, high + 1)]
    seconds = [piece.seconds(count) for count in bars]
    values = [price.charged(piece.cost(n), t) for n, t in zip(bars, seconds, strict=True)]
    base = min(values)
    outside = [rung for rung in (low - 1, high + 1) if ladder.first <= rung <= ladder.top]
    beyond = min((charged.smooth(rung) - charged.slack - base for rung in outside), default=None)
    kept = [
        (n, t, value - base)
        for n, t, value in zip(bars, seconds, values, strict=True)
        if reach is None or value - base <= reach
    ]
    if reach is not None and len(kept) < len(bars):
        beyond = reach if beyond is None else min(beyond, reach)
    return Window(
        bars=[n for n, _, _ in kept],
        seconds=[t for _, t, _ in kept],
        regrets=[regret for _, _, regret in kept],
        base=base,
        beyond=beyond,
    )


class _Charged:
    """The smooth, convex form of ``cost - price·seconds`` over the rungs of a ladder."""

    def __init__(self, piece: Piece, price: Price) -> None:
        self._piece = piece
        self._price = price
        seconds_off, cost_off = piece.roughness()
        self.slack: Exact = price.bottom * cost_off + abs(price.per_unit) * seconds_off

    def smooth(self, rung: int) -> Exact:
        bars = self._piece.ladder.bars(rung)
        return self._price.charged(self._piece.smooth_cost(bars), self._piece.smooth_seconds(bars))

    def lowest_rung(self) -> int:
        """The first rung from which it rises."""
        low, high = self._piece.ladder.first, self._piece.ladder.top
        while low < high:
            middle = (low + high) // 2
            if self.smooth(middle) < self.smooth(middle + 1):
                high = middle
            else:
                low = middle + 1
        return low

    def first_within(self, low: int, high: int, limit: Exact) -> int:
        """The first rung from ``low`` on, up to ``high``, that is within ``limit``."""
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.smooth(middle) <= limit else (middle + 1, high)
        return low

    def last_within(self, low: int, high: int, limit: Exact) -> int:
        """The last rung from ``low`` on, up to ``high``, that is within ``limit``."""
        while low < high:
            middle = (low + high + 1) // 2
            low, high = (middle, high) if self.smooth(middle) <= limit else (low, middle - 1)
        return low
