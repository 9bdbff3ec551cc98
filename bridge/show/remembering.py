"""Where a show stands by the memory of a bridge that was killed, and by its host since.

Between two lives of the bridge the host went on: it may have gone back by itself, at the
end of a loop, or have run past the end of a section that is held.  This file knows
nothing about what is done about it.
"""

from __future__ import annotations

from bridge.cues import Leads
from bridge.exact import Length
from bridge.show.memory import Memory, digest
from bridge.show.passing import Pass, Then
from bridge.show.programme import Programme

__all__ = ["remembered", "shift_then"]

_SAME = 4.0
"""Quarter notes between where a memory expects the show and where it is found, to be the same."""
_MOST_LOOPS = 3


def remembered(programme: Programme, memory: Memory, *, leads: Leads) -> tuple[int, Pass] | None:
    """Return the song and the pass that a memory is about; None where the plan is another by now."""
    for number, song in enumerate(programme.songs):
        if digest(song) == memory.song and memory.section < len(song.sections):
            passed = Pass(
                song=song,
                index=memory.section,
                number=memory.went,
                held=memory.held,
                leaves=memory.leaves,
                then=None if memory.follows is None else Then(section=memory.follows),
                leads=leads,
            )
            return number, passed
    return None


def shift_then(passed: Pass, memory: Memory, *, stands: float, expected: float) -> Length | None:
    """Return the shift by which a host at ``stands`` is where the memory expects it; None where none is.

    Both are quarters from the section's start.  The host may have looped meanwhile.
    """
    back = passed.loops_by
    shifts = [memory.shift]
    if back is not None:
        shifts += [memory.shift + back * times for times in range(1, _MOST_LOOPS + 1)]
    near = min(shifts, key=lambda shift: abs(stands + float(shift.quarters) - expected))
    return near if abs(stands + float(near.quarters) - expected) <= _SAME else None
