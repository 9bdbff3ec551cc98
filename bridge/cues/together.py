"""All home together soon: the meetings on the way, and the landing where a section is left.

To everybody in bars, to each player in own turns.  Meetings that follow one another more
closely than the leads say are not worth a word each.  This file knows nothing about how
meetings are found.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

from bridge.cues.distance import turns_until
from bridge.cues.due import DueCue
from bridge.cues.sheet import Sheet
from bridge.cues.standing import Turner
from bridge.exact import Length, Place, Ratio
from bridge.song import PlacedSection, gathering_in

__all__ = ["in_own_turns", "landing", "meetings_on_the_way"]

_NOTHING = Length(0)


def meetings_on_the_way(here: Sheet, *, until: Length) -> Iterator[DueCue]:
    """Walk through the cues of its meetings before ``until``, past its planned end as well."""
    meters = here.placed.section.meters
    apart = meters.length * Ratio(here.leads.apart) / len(meters.row)
    before = _NOTHING
    for at in _meetings(here, apart):
        if at >= until:
            return
        if at - before >= apart:
            yield from _told(here, at, f"meeting {_who(here)}", "")
        before = max(before, at, key=lambda place: place.whole_notes)


def landing(here: Sheet) -> Iterator[DueCue]:
    """Walk through the cues of its landing, if all are home where it will be left."""
    if here.leaves is None or here.is_free:
        return
    if _all_home(here, here.leaves):
        yield from _told(here, here.leaves, f"landing {here.follows}", here.next_name)


def in_own_turns(
    here: Sheet, turners: Sequence[Turner], into: Length, target: Length, *, always: bool = False
) -> dict[str, str]:
    """Say for each player of ``turners`` how many turns it is to ``target``, of each layer that sounds.

    The layer is named where its player owns several, or ``always``.
    """
    found: dict[str, list[str]] = {}
    for turner in turners:
        if turner.sounds(into):
            is_named = always or len(here.song.plan.players[turner.player]) > 1
            of = f" of {turner.name}" if is_named else ""
            found.setdefault(turner.player, []).append(turns_until(turner, into, target, of=of))
    return {player: " and ".join(words) for player, words in found.items()}


def _told(here: Sheet, at: Length, kind: str, lands_in: str) -> Iterator[DueCue]:
    into = here.leads.one(here.axis, at, here.leads.together)
    on_the_one = " on the one" if here.axis.bar_at(at).start == at else ""
    if into >= at:
        return
    where = f": {lands_in}" if lands_in else ""
    then = lands_in or f"{_who(here)} home{on_the_one}"
    texts = {"": f"{_who(here)} home{on_the_one} in {here.far(into, at)}{where}"}
    for player, turns in in_own_turns(here, _gathering(here), into, at).items():
        texts[player] = f"{turns}, then {then}"
    yield from here.cues(kind, into=into, target=at, texts=texts)


def _meetings(here: Sheet, apart: Length) -> Iterator[Length]:
    """Walk through its meetings after its start; where they follow closer than ``apart``, not all of them."""
    yield from (place - here.placed.start for place in _planned(here.placed, apart))
    if _all_home(here, here.placed.length):
        yield here.placed.length
    yield from _past_the_end(here, apart)


def _planned(placed: PlacedSection, apart: Length) -> Iterator[Place]:
    found, end = gathering_in(placed), placed.counts_until
    if found is None:
        return
    if found.every >= apart:
        yield from found.between(placed.start, end)
        return
    # Its start and the first after it: whatever follows in the row is closer than asked.
    yield from islice(found.between(placed.start, end), 2)
    if found.until is not None:
        yield from found.between(found.until, end)


def _past_the_end(here: Sheet, apart: Length) -> Iterator[Length]:
    at = here.placed.length
    while True:
        after = here.standing.meeting_after(at, held=True)
        if after is None:
            return
        yield after
        if after - at < apart and at > here.placed.length:
            return
        at = after


def _all_home(here: Sheet, at: Length) -> bool:
    who = _gathering(here)
    return len(who) > 1 and all(
        turner.start < at and (turner.until is None or at <= turner.until) and turner.is_home(at)
        for turner in who
    )


def _gathering(here: Sheet) -> list[Turner]:
    return [turner for turner in here.standing.turners if turner.name in here.standing.gather]


def _who(here: Sheet) -> str:
    gather = here.standing.gather
    return "all" if len(gather) == len(here.standing.turners) else ", ".join(gather)
