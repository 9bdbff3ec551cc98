"""A layer tightens: its first shorter cycle said well ahead, the others a bar ahead where there is time.

To everybody in bars, to its player in own turns.  Where a stage is so short that its cue
would fall into the stage before the last one, the first cue has to do for it: it names them
all.  This file knows nothing about how stages are found.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.craft.stages import written
from bridge.cues.due import DueCue
from bridge.cues.sheet import Sheet
from bridge.cues.standing import Turner
from bridge.cues.together import in_own_turns
from bridge.exact import Length
from bridge.song import Part, stages_in_words

__all__ = ["tightenings"]

_NOTHING = Length(0)


def tightenings(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of the stages of its tightening, if it has one."""
    turners = {turner.name: turner for turner in here.standing.turners}
    for part in here.placed.parts:
        if part.tightened is not None:
            yield from _stages(here, part, turners[part.layer.name])


def _stages(here: Sheet, part: Part, turner: Turner) -> Iterator[DueCue]:
    tightened = part.tightened
    if tightened is None:
        return
    begins = part.tightens_at - here.placed.start
    before = _NOTHING
    for number, (cycle, stage) in enumerate(
        zip(written(tightened.asked.cycles), tightened.stages, strict=True)
    ):
        at = begins + stage.start
        into = here.leads.one(here.axis, at, 1 if number else here.leads.once)
        if here.lies_in(at) and before <= into < at:
            all_of_them = "" if number else f": {stages_in_words(part)}"
            told = f"{turner.name} in {cycle}" if number else f"{turner.name} tightens"
            turns = in_own_turns(here, [turner], into, at)
            texts = {
                "": f"{told} in {here.far(into, at)}{all_of_them}",
                turner.player: f"{turns[turner.player]}, then {stage.turns} of {cycle}",
            }
            yield from here.cues("tightens", into=into, target=at, texts=texts)
        before = at
