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

import numpy as np

from bridge.shape.effort import Effort
from bridge.shape.numbers import Array, Exact, added, array, is_wide, plain, taken_from, times
from bridge.shape.piece import Piece, Scale

__all__ = ["Price", "Window", "look"]

_MOST = 1 << 17
_MOST_ROUGH = 1 << 12
"""Lengths listed at most, and under a ramp, where each takes much longer."""
_FEW = 24
"""Up to so many lengths are listed one by one: arrays are no quicker then."""


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

    bars: Array
    seconds: Array
    regrets: Array
    base: Exact
    """The least of ``cost - price·seconds`` over the whole ladder, exact."""
    beyond: Exact | None
    """No length left out has less regret than this; None: none was left out."""


def look(piece: Piece, price: Price, reach: Exact | None, effort: Effort) -> Window:
    """List the lengths of ``piece`` whose regret is at most ``reach`` (None: all of them).

    Where there are more than there is room for, those nearest the best are listed.
    """
    near = _looked_near(piece, price, reach) if reach is not None else None
    if near is not None:
        return near
    charged = _Charged(piece, price)
    ladder = piece.ladder
    bottom = charged.lowest_rung()
    low, high = ladder.first, ladder.top
    if reach is not None:
        limit = charged.smooth(bottom) + reach + 2 * charged.slack
        low, high = charged.first_within(low, bottom, limit), charged.last_within(bottom, high, limit)
    most = _MOST if piece.is_smooth else _MOST_ROUGH
    room = min(most, effort.room(wide=not piece.is_smooth)) // 2
    low, high = max(low, bottom - room), min(high, bottom + room)
    bars, seconds, values = _listed(piece, price, low, high)
    effort.take(len(bars), wide=is_wide(values))
    base = plain(values.min())
    outside = [rung for rung in (low - 1, high + 1) if ladder.first <= rung <= ladder.top]
    beyond = min((charged.smooth(rung) - charged.slack - base for rung in outside), default=None)
    regrets = -taken_from(base, values)
    if reach is not None and not piece.is_smooth:
        kept = np.flatnonzero(regrets <= reach)
        if len(kept) < len(bars):
            beyond = reach if beyond is None else min(beyond, reach)
        bars, seconds, regrets = bars[kept], seconds[kept], regrets[kept]
    return Window(bars=bars, seconds=seconds, regrets=regrets, base=base, beyond=beyond)


def _looked_near(piece: Piece, price: Price, reach: Exact) -> Window | None:
    """Find the window among the lengths listed around the wish; None where it goes beyond them."""
    near, ladder = piece.near_wish(), piece.ladder
    if near is None or price.bottom * near.most_cost + abs(price.per_unit) * near.most_seconds >= 1 << 62:
        return None
    start, stop = max(near.low, ladder.first) - near.low, min(near.high, ladder.top) - near.low + 1
    if start >= stop:
        return None
    seconds = near.seconds[start:stop]
    values = price.bottom * near.costs[start:stop] - price.per_unit * seconds
    base = int(values.min())
    regrets = values - base
    kept = np.flatnonzero(regrets <= reach)
    low, high = int(kept[0]), int(kept[-1])
    before, after = start + low > 0, start + high < len(near.bars) - 1
    if (not before and near.low > ladder.first) or (not after and near.high < ladder.top):
        return None
    outside = [int(regrets[at]) for at in (low - 1, high + 1) if 0 <= at < len(regrets)]
    return Window(
        bars=near.bars[start:stop][low : high + 1],
        seconds=seconds[low : high + 1],
        regrets=regrets[low : high + 1],
        base=base,
        beyond=min(outside, default=None),
    )


def _listed(piece: Piece, price: Price, low: int, high: int) -> tuple[Array, Array, Array]:
    """Return bars, seconds and ``cost - price·seconds`` of the rungs ``low`` to ``high``."""
    if high - low > _FEW and piece.is_smooth:
        ladder = piece.ladder
        rungs = np.arange(low, high + 1)
        bars = (
            np.array(ladder.firsts)[rungs % len(ladder.firsts)] + rungs // len(ladder.firsts) * ladder.period
        )
        seconds = piece.all_seconds(bars)
        off = times(abs(added(seconds, array([-piece.wish]))), price.bottom * piece.weight)
        return bars, seconds, added(off, times(seconds, -price.per_unit))
    counts = [piece.ladder.bars(rung) for rung in range(low, high + 1)]
    lasting = [piece.seconds(count) for count in counts]
    values = [price.charged(piece.cost(n), t) for n, t in zip(counts, lasting, strict=True)]
    return array(counts), array(lasting), array(values)


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
        """Find the first of the lowest rungs."""
        low, high = self._piece.ladder.first, self._piece.ladder.top
        while low < high:
            middle = (low + high) // 2
            if self.smooth(middle) <= self.smooth(middle + 1):
                high = middle
            else:
                low = middle + 1
        return low

    def first_within(self, low: int, high: int, limit: Exact) -> int:
        """Find the first rung from ``low`` on, up to ``high``, that is within ``limit``."""
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.smooth(middle) <= limit else (middle + 1, high)
        return low

    def last_within(self, low: int, high: int, limit: Exact) -> int:
        """Find the last rung from ``low`` on, up to ``high``, that is within ``limit``."""
        while low < high:
            middle = (low + high + 1) // 2
            low, high = (middle, high) if self.smooth(middle) <= limit else (low, middle - 1)
        return low
