"""All home together soon: the meetings on the way, and the landing where a section is left.

To everybody in bars, to each player in own turns.  Meetings that follow one another more
closely than the leads say are not worth a word each.  This file knows nothing about how
meetings are found.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice, pairwise
from operator import attrgetter

from bridge.cues.distance import turns_until
from bridge.cues.due import DueCue
from bridge.cues.sheet import Sheet
from bridge.cues.standing import Turner
from bridge.exact import Length, Place, Ratio
from bridge.song import Gathering, PlacedSection, gathering_in

__all__ = ["in_own_turns", "landing", "meetings_on_the_way"]

_NOTHING = Length(0)
_AT = attrgetter("whole_notes")


def meetings_on_the_way(here: Sheet, *, until: Length) -> Iterator[DueCue]:
    """Walk through the cues of its meetings before ``until``, past its planned end as well."""
    meters = here.placed.section.meters
    apart = meters.length * Ratio(here.leads.apart) / len(meters.row)
    for before, at in _meetings(here, apart):
        if at >= until:
            return
        if at - before >= apart:
            yield from _told(here, at, "meeting", "")


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
    if into >= at:
        return
    who = [turner for turner in _gathering(here) if turner.start <= at and _lasts_to(turner, at)]
    names = [turner.name for turner in who]
    everybody = all(turner.name in names for turner in here.standing.turners if turner.sounds(at))
    home = "all home" if everybody else f"{', '.join(names)} home"
    if here.axis.bar_at(at).start == at:
        home += " on the one"
    texts = {"": f"{home} in {here.far(into, at)}" + (f": {lands_in}" if lands_in else "")}
    for player, turns in in_own_turns(here, who, into, at).items():
        texts[player] = f"{turns}, then {lands_in or home}"
    yield from here.cues(kind, into=into, target=at, texts=texts)


def _meetings(here: Sheet, apart: Length) -> Iterator[tuple[Length, Length]]:
    """Walk through its meetings, each with the one before it, or its start; of a close row not all."""
    start, end = here.placed.start, here.placed.length
    for earlier, place in _planned(here.placed, apart):
        yield earlier - start, place - start
    found = gathering_in(here.placed)
    last = None if found is None else _last_before(found, here.placed.counts_until)
    before = _NOTHING if last is None else max(_NOTHING, last - start, key=_AT)
    if _all_home(here, end):
        yield before, end
        before = end
    yield from _past_the_end(here, before, apart)


def _planned(placed: PlacedSection, apart: Length) -> Iterator[tuple[Place, Place]]:
    found, start, end = gathering_in(placed), placed.start, placed.counts_until
    if found is None:
        return
    row = found.between(start, end if found.until is None else min(end, found.until, key=_AT))
    # Its start and the first after it: whatever follows in a close row is closer than asked.
    yield from pairwise([start, *(row if found.every >= apart else islice(row, 2))])
    if found.until is not None:
        last = _last_before(found, found.until)
        before = start if last is None else max(start, last, key=_AT)
        yield from pairwise([before, *found.between(found.until, end)])


def _last_before(found: Gathering, place: Place) -> Place | None:
    """Return the last meeting before ``place``; None where there is none."""
    after = [one for one in found.then if one < place]
    if after:
        return after[-1]
    end = place if found.until is None else min(place, found.until, key=_AT)
    number = -((found.first - end) // found.every) - 1
    return found.first + found.every * number if number >= 0 else None


def _past_the_end(here: Sheet, before: Length, apart: Length) -> Iterator[tuple[Length, Length]]:
    """Walk through the meetings after its planned end: the first two, and all where they are far apart."""
    after = here.standing.meeting_after(here.placed.length, held=True)
    while after is not None:
        yield before, after
        if after - before < apart:
            return
        before, after = after, here.standing.meeting_after(after, held=True)


def _all_home(here: Sheet, at: Length) -> bool:
    who = _gathering(here)
    return len(who) > 1 and all(
        turner.start < at and _lasts_to(turner, at) and turner.is_home(at) for turner in who
    )


def _lasts_to(turner: Turner, at: Length) -> bool:
    return turner.until is None or at <= turner.until


def _gathering(here: Sheet) -> list[Turner]:
    return [turner for turner in here.standing.turners if turner.name in here.standing.gather]
