"""How far it still is, in the words that a cue says it in: bars, beats, a player's own turns.

From a barline it is bars, ``4 bars`` or ``4 bars and 2 beats``; from within a bar it is the
counted beats, ``6 beats``.  A turn that has begun is this one: ``this turn and 10 more``.
This file knows nothing about what is coming.
"""

from __future__ import annotations

from fractions import Fraction

from bridge.cues.axis import Axis
from bridge.cues.standing import Turner
from bridge.exact import Bars, Length
from bridge.song import counted_turns

__all__ = ["barlines_between", "counted_bars", "far", "turns_until"]

_FINEST = 99
"""The finest share of a beat that is written as a fraction."""


def barlines_between(axis: Axis, into: Length, target: Length) -> int:
    """Count the barlines after ``into``, up to ``target``."""
    return axis.bar_at(target).number - axis.bar_at(into).number


def far(axis: Axis, into: Length, target: Length) -> str:
    """Say how far it is from ``into`` to ``target``, which lies after it."""
    bar, last = axis.bar_at(into), axis.bar_at(target)
    if bar.start != into or bar.number == last.number:
        return _beats(axis.beats_between(into, target))
    bars = str(Bars(last.number - bar.number))
    return bars if last.start == target else f"{bars} and {_beats(axis.counted(target) - 1)}"


def counted_bars(axis: Axis, into: Length, target: Length) -> str:
    """Say which bars are left up to the barline ``target``: ``12 bars``, or ``this bar and 11 more``."""
    bars = barlines_between(axis, into, target)
    if axis.bar_at(into).start == into:
        return str(Bars(bars))
    return f"this bar and {bars - 1} more" if bars > 1 else "this bar"


def turns_until(turner: Turner, into: Length, target: Length, *, of: str = "") -> str:
    """Say how many turns of ``turner`` begin from ``into`` on and before ``target``.

    ``of`` is what follows the noun, as in `` of hand drum``.
    """
    end = target if turner.until is None or target <= turner.until else turner.until
    here = turner.homes_up_to(into)
    begun = max(0, turner.homes_up_to(end) - turner.is_home(end) - here)
    if here and turner.is_home(into):
        return _turns(begun + 1, of)
    if here or turner.begun is not None:
        return f"this turn{of} and {begun} more" if begun else f"this turn{of}"
    return f"{_turns(begun, of)} from its first home on"


def _turns(count: int, of: str) -> str:
    return counted_turns(Fraction(count)) + of


def _beats(beats: Fraction) -> str:
    whole, rest = divmod(beats, 1)
    count = f"{whole} {rest}" if whole and rest else str(beats)
    if rest.denominator > _FINEST:
        count = f"about {float(beats):.2f}"
    return f"{count} beat{'s' if beats > 1 else ''}"
