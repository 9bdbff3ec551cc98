"""What a section is in words: how many turns a part plays, how it is left, what its cues say.

This file knows nothing about where the words stand.
"""

from __future__ import annotations

from fractions import Fraction

from bridge.craft.stages import written
from bridge.exact import show_seconds
from bridge.plan.cue import PlanCue
from bridge.plan.model import Section
from bridge.song.part import Part

__all__ = ["counted_turns", "cue_in_words", "left_open", "stages_in_words"]

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


def left_open(section: Section) -> str:
    """Say what goes on until it is released, ``free, about 0:45`` or ``vamp, ...``; else nothing."""
    if section.free is not None:
        return f"free, about {show_seconds(section.free.about)}"
    if section.vamp is None:
        return ""
    least = section.vamp.at_least
    return "vamp, held until released" + (f", at least {least}" if least is not None else "")


def cue_in_words(cue: PlanCue) -> str:
    """Say for whom a cue is and what it says: ``percussion: brushes down``; empty where it says nothing."""
    if cue.say is None:
        return ""
    return cue.say if cue.player is None else f"{cue.player}: {cue.say}"
