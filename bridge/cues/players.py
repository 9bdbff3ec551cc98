"""What changes for each player, said once, in time: in, tacet, alone, with everybody, other layers.

This file knows nothing about turns.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.cues.due import DueCue
from bridge.cues.ensemble import Ensemble, as_it_begins, new_cycles, what_changes
from bridge.cues.next_section import counted_in_bars
from bridge.cues.sheet import Sheet
from bridge.exact import Length

__all__ = ["changes_at_its_end", "changes_counted_in", "changes_within", "then_for"]

_NOTHING = Length(0)


def changes_within(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of who comes in or falls silent within the section."""
    turners = here.standing.turners
    places = {turner.start for turner in turners} | {turner.until for turner in turners}
    for at in sorted((one for one in places if one), key=lambda one: one.whole_notes):
        if not here.lies_in(at):
            return
        before, after = (Ensemble.at(here.song, here.standing, at, until=until) for until in (True, False))
        into = here.leads.one(here.axis, at, here.leads.once)
        far, texts = here.far(into, at), {}
        for player in here.song.plan.players:
            words = ", ".join(what_changes(here.song, player, before, after))
            if words:
                texts[player] = f"{far}, then {words}"
        yield from here.cues("change", into=into, target=at, texts=texts)


def changes_at_its_end(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of what the next section changes for whom; none while it is open when."""
    if here.leaves is None or here.follows is None or here.is_free:
        return
    into = here.leads.one(here.axis, here.leaves, here.leads.once)
    coming = f"{here.next_name} in {here.far(into, here.leaves)}"
    texts = {player: f"{coming}: {words}" for player, words in then_for(here, here.leaves).items()}
    yield from here.cues(f"then {here.follows}", into=into, target=here.leaves, texts=texts)


def changes_counted_in(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of who begins with the section, at the start of its count-in."""
    bars = counted_in_bars(here)
    if not bars:
        return
    into = here.axis.bar(1 - bars).start
    last = as_it_begins(here.song, here.index - 1 if here.index else None)
    coming = f"{here.placed.name} in {here.far(into, _NOTHING)}"
    texts = {player: f"{coming}: {words}" for player, words in _changes(here, here.index, last).items()}
    yield from here.cues("begin", into=into, target=_NOTHING, texts=texts)


def then_for(here: Sheet, leaves: Length) -> dict[str, str]:
    """Say for each player what changes when the section is left at ``leaves``; nobody else is named."""
    if here.follows is None:
        return {}
    before = Ensemble.at(here.song, here.standing, leaves, until=True)
    return _changes(here, here.follows, before)


def _changes(here: Sheet, index: int, before: Ensemble) -> dict[str, str]:
    after = as_it_begins(here.song, index)
    found = {}
    for player in here.song.plan.players:
        words = [*what_changes(here.song, player, before, after), *new_cycles(player, before, after)]
        if words:
            found[player] = ", ".join([*words, *_pickup(here, index, player)])
    return found


def _pickup(here: Sheet, index: int, player: str) -> Iterator[str]:
    """Say how long before its first barline ``player`` sounds already."""
    own = here.song.plan.players[player]
    for part in here.song.sections[index].parts:
        if part.pickup and part.layer.name in own:
            yield f"pickup {part.pickup} before"
            return
