"""What a laying would send, worked out from the record alone.

Nothing is asked of the host: it is taken to hold just what the record says.  This file
knows nothing about sockets or files.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import count

from bridge.hostmap import HostMap, MarkerHeard, Message, Number, Ruler, messages_of
from bridge.lay.blind import BlindLaying
from bridge.lay.desk import Desk
from bridge.lay.effect import Send
from bridge.lay.options import Options
from bridge.lay.owner import survey
from bridge.lay.record import Entry
from bridge.lay.renaming import renamings
from bridge.lay.result import Failure, Result
from bridge.lay.wanted import Wanted, reports

__all__ = ["dry_run"]


def dry_run(
    ruler: Ruler, host: HostMap, wanted: tuple[Wanted, ...], entries: tuple[Entry, ...]
) -> tuple[tuple[Message, ...], Result]:
    """Return the messages in the order in which they would be sent, and what would come of them."""
    if not reports(host):
        return _blind(ruler, host, wanted, entries)
    desk = Desk(ruler, host)
    found = survey(wanted, entries, tuple(map(_as_recorded, entries)))
    missing = [one for one in wanted if one.index not in found.met]
    free_id = count(1 + max((entry.id for entry in entries if isinstance(entry.id, int)), default=0))
    to_place = [one for one in missing if one.refusal is None]
    renamed = renamings(desk, found, to_place, found.surplus, lambda _told, _saying: False)
    steps = [
        step
        for one in to_place
        for step in (
            renamed[one.index].steps if one.index in renamed else desk.placing(one, free_id=next(free_id))
        )
    ]
    failed = [Failure(one.name, one.refusal) for one in missing if one.refusal is not None]
    old_names = []
    going = {one.marker for one in renamed.values()}
    for marker in (one for one in found.surplus if one not in going):
        told = found.standing[marker]
        removing = desk.removing(told)
        if isinstance(removing, str):
            failed.append(Failure(told.name, removing))
        else:
            old_names.append(told.name)
            steps.extend(removing)
    placed = [one for one in to_place if one.index not in renamed]
    counts = _counts(placed, old_names, kept=len(found.met), failed=failed)
    return messages_of(steps), replace(
        counts, renamed=len(renamed), unverified=counts.unverified + len(renamed)
    )


def _counts(placed: Iterable[Wanted], old_names: list[str], *, kept: int, failed: list[Failure]) -> Result:
    sent, moved = 0, 0
    for one in placed:
        sent += 1
        if one.name in old_names:
            old_names.remove(one.name)
            moved += 1
    return Result(
        placed=sent - moved,
        kept=kept,
        moved=moved,
        removed=len(old_names),
        unverified=sent + kept,
        failed=tuple(failed),
    )


def _as_recorded(entry: Entry) -> MarkerHeard:
    return MarkerHeard(entry.id, entry.name, Number(entry.at, entry.step))


def _blind(
    ruler: Ruler, host: HostMap, wanted: tuple[Wanted, ...], entries: tuple[Entry, ...]
) -> tuple[tuple[Message, ...], Result]:
    laying = BlindLaying(ruler, host, wanted, entries, Options(anyway=True, listen=0.0))
    effects = laying.start(0.0)
    for hour in range(1, 1 << 20):
        if laying.result is not None:
            break
        effects += laying.wake(hour * 3600.0)
    messages = tuple(effect.message for effect in effects if isinstance(effect, Send))
    return messages, laying.result or Result()
