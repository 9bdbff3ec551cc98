"""How many turns a part plays, in words: its own, and those of its tightening.

This file knows nothing about where the words stand.
"""

from __future__ import annotations

from fractions import Fraction

from bridge.craft.stages import written
from bridge.song.part import Part

__all__ = ["counted_turns", "stages_in_words"]

_COUNTED = 99
"""The finest share of a turn that is written as a fraction."""
_LEAST = Fraction(1, 100)


def counted_turns(turns: Fraction) -> str:
    """Write a number of turns: ``12 turns``, ``1 turn``, ``2 2/3 turns``, in decimals if finer."""
    whole, rest = divmod(turns, 1)
    count = f"{whole} {rest}" if whole and rest else str(turns)
    if rest.denominator > _COUNTED:
        count = f"{float(turns):.2f}" if turns >= _LEAST else "under 0.01"
    return f"{count} turn{'s' if turns > 1 else ''}"


def stages_in_words(part: Part) -> str:
    """Write the stages of a tightening: ``8 turns each of 5/8, 4/8, 3/8, 2/8``; empty without one."""
    if part.tightened is None:
        return ""
    stages, cycles = part.tightened.stages, written(part.tightened.asked.cycles)
    if len({stage.turns for stage in stages}) == 1:
        return f"{counted_turns(Fraction(stages[0].turns))} each of {', '.join(cycles)}"
    each = (f"{stage.turns} of {cycle}" for cycle, stage in zip(cycles, stages, strict=True))
    return f"turns: {', '.join(each)}"
