"""What is said at once when it becomes certain where a section is left.

To everybody in bars, to each player in own turns.  This file knows nothing about why it
is left there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bridge.cues.distance import counted_bars
from bridge.cues.due import DueCue
from bridge.cues.ensemble import listed
from bridge.cues.ladder import Exits
from bridge.cues.own import own_cues_at_its_end
from bridge.cues.players import then_for
from bridge.cues.sheet import Sheet
from bridge.cues.together import in_own_turns
from bridge.cues.until_released import what_ends_it
from bridge.exact import Length
from bridge.song import Song

__all__ = ["release_cues"]


def release_cues(
    song: Song, index: int, *, now: Length, leaves: Length, follows: int | None
) -> tuple[DueCue, ...]:
    """Return what is said at ``now`` about section ``index``, which is left at the barline ``leaves``.

    ``leaves`` is ``now`` or later, both from the section's start.  Who does not stand there
    as at the planned end is named.  What the plan wants sent before that end, and whose moment
    has passed, is sent now, without its words.
    """
    here = Sheet(song=song, index=index, leaves=leaves, follows=follows)
    texts = {"": _for_all(here, now, leaves), **dict(_for_players(here, now, leaves))}
    said = here.cues(f"release {follows}", into=now, target=leaves, texts=texts)
    late = (cue for cue in own_cues_at_its_end(here) if cue.into < now and (cue.osc or cue.midi))
    return (*said, *(replace(cue, into=now, text="") for cue in late))


def _for_all(here: Sheet, now: Length, leaves: Length) -> str:
    name = here.placed.name
    if here.is_free:
        text = f"{name} ends, {what_ends_it(here)}"
    elif now >= leaves:
        text = f"{name} ends now, then {here.next_name}"
    else:
        bars = counted_bars(here.axis, now, leaves)
        how = "after" if bars.startswith("this") else "in"
        text = f"{name} ends {how} {bars}, then {here.next_name}"
    return text + _missing(_not_home(here, leaves))


def _for_players(here: Sheet, now: Length, leaves: Length) -> Iterator[tuple[str, str]]:
    """Say to who plays how many turns are left, to who comes in how many bars; to each what comes then."""
    changes, away = then_for(here, leaves), _not_home(here, leaves)
    turns = in_own_turns(here, here.standing.turners, now, leaves, always=True)
    for player, own in here.song.plan.players.items():
        if player not in turns and player not in changes:
            continue
        change = f": {changes[player]}" if player in changes else ""
        if here.is_free or now >= leaves:
            until = "now "
        elif player in turns:
            until = f"{_last(turns[player])}, then "
        else:
            until = f"{counted_bars(here.axis, now, leaves)}, then "
        missing = tuple(name for name in own if name in away and player in turns)
        yield player, f"{until}{here.next_name}{change}{_missing(missing)}"


def _last(turns: str) -> str:
    return turns if turns.startswith("this") else f"last {turns.removeprefix('1 ')}"


def _not_home(here: Sheet, leaves: Length) -> tuple[str, ...]:
    if here.is_free:
        return ()
    turns = Exits(here.song, here.index).turns
    return tuple(name for name, turn in turns.items() if (leaves - here.placed.length) % turn)


def _missing(names: tuple[str, ...]) -> str:
    return f"; not home: {listed(names)}" if names else ""
