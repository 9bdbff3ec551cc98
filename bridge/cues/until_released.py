"""What goes on until somebody ends it: a free passage, a vamp, a section that is held.

This file knows nothing about who releases it.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.cues.due import DueCue
from bridge.cues.players import then_for
from bridge.cues.sheet import Sheet
from bridge.exact import Bars, Length, show_seconds

__all__ = ["free_passage", "held", "what_ends_it"]

_NOTHING = Length(0)


def free_passage(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of a passage without bars: all of them as it begins."""
    free = here.placed.section.free
    if free is None:
        return
    text = f"{here.placed.name}: free, about {show_seconds(free.about)}, {what_ends_it(here)}"
    after = f"after {here.placed.name}, {here.next_name}"
    texts = {player: f"{after}: {words}" for player, words in then_for(here, here.placed.length).items()}
    yield from here.cues(f"free {here.follows}", into=_NOTHING, target=_NOTHING, texts={"": text, **texts})


def what_ends_it(here: Sheet) -> str:
    """Say what comes after a free passage, and that it is counted in."""
    if here.follows is None:
        return f"then {here.next_name}"
    after = here.song.sections[here.follows].section
    if after.free is not None:
        return f"then {after.name}"
    return f"then {Bars(after.count_in or 1)} counted in to {after.name}"


def held(here: Sheet) -> Iterator[DueCue]:
    """Say of a vamp that it is held, and of any section whose end is open that it goes on past it."""
    name, vamp = here.placed.name, here.placed.section.vamp
    if here.is_free:
        return
    if vamp is not None:
        least = f", at least {vamp.at_least}" if vamp.at_least is not None else ""
        text = f"{name} is held until released{least}"
        yield from here.cues("vamp", into=_NOTHING, target=_NOTHING, texts={"": text})
    if here.leaves is None:
        end = here.placed.length
        yield from here.cues("goes on", into=end, target=end, texts={"": f"{name} goes on until released"})
