"""The laying of markers in a host that reports none: sent once, never verified.

What was sent stands in the record, and only what differs from it is sent again.  The
record is written before and after each marker: after a crash exactly one may have been
sent or not; it is taken back first where the host map can, and else sent again, since
one too many is better than one too few.  This file knows nothing about sockets.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from bridge.hostmap import Event, HostMap, Ruler
from bridge.lay.desk import Desk
from bridge.lay.effect import Send, Write
from bridge.lay.options import Options
from bridge.lay.pacing import Pacing
from bridge.lay.record import Entry, State
from bridge.lay.result import Failure, Result
from bridge.lay.wanted import Wanted

__all__ = ["BlindDifference", "BlindLaying", "blind_difference"]

_CANNOT_GO = "it cannot be removed without knowing its id: remove it in the host by hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindDifference:
    """What of the plan differs from what was sent before."""

    kept: tuple[Wanted, ...]
    new: tuple[tuple[Wanted, Entry], ...]
    """What is to be sent, with the entry it gets."""
    moved: frozenset[int]
    """The new ones that take the place of an old one of the same name."""
    old: tuple[Entry, ...]
    """What is to be taken back."""
    stuck: tuple[Entry, ...]
    """What cannot be taken back: told of once and then forgotten, for only the user can remove it."""
    redo: tuple[Entry, ...]
    """What a crash left open: to be taken back before it is sent again."""
    failed: tuple[Failure, ...]


def blind_difference(desk: Desk, wanted: Iterable[Wanted], entries: Iterable[Entry]) -> BlindDifference:
    """Compare the plan with the record."""
    left = list(entries)
    kept: list[Wanted] = []
    new: list[tuple[Wanted, Entry]] = []
    redo: list[Entry] = []
    failed: list[Failure] = []
    for one in wanted:
        if one.refusal is not None:
            failed.append(Failure(one.name, one.refusal))
            continue
        entry = _entry(desk, one)
        same = next((e for e in left if (e.name, e.sent) == (entry.name, entry.sent)), None)
        if same is not None:
            left.remove(same)
        if same is not None and same.state is State.LAID:
            kept.append(one)
            continue
        if same is not None and same.undo:
            redo.append(same)
        new.append((one, entry))
    refused = {failure.name for failure in failed}
    old = [entry for entry in left if entry.name not in refused]
    failed.extend(Failure(entry.name, _CANNOT_GO) for entry in old if entry.undo is None)
    names = [entry.name for entry in old]
    moved = set()
    for one, _ in new:
        if one.name in names:
            names.remove(one.name)
            moved.add(one.index)
    return BlindDifference(
        kept=tuple(kept),
        new=tuple(new),
        moved=frozenset(moved),
        old=tuple(entry for entry in old if entry.undo is not None),
        stuck=tuple(entry for entry in old if entry.undo is None),
        redo=tuple(redo),
        failed=tuple(failed),
    )


class BlindLaying(Pacing):
    """Lay ``wanted`` in a host that reports nothing, starting from the record's ``entries``."""

    def __init__(
        self,
        ruler: Ruler,
        host: HostMap,
        wanted: Iterable[Wanted],
        entries: Iterable[Entry],
        options: Options | None = None,
    ) -> None:
        super().__init__(ruler, host, options or Options())
        self._entries = tuple(entries)
        self._found = blind_difference(Desk(ruler, host), wanted, self._entries)

    def _begin(self) -> None:
        """Put everything into the outbox: first what has to go before its successor comes."""
        found = self._found
        new = {message for _, entry in found.new for message in entry.undo or ()}
        first = [entry for entry in found.old if new & set(entry.undo or ())]
        for entry in (*found.redo, *first):
            self._take_back(entry)
        for _, entry in found.new:
            self._place(entry)
        for entry in found.old:
            if entry not in first:
                self._take_back(entry)
        self._entries = tuple(one for one in self._entries if one not in found.stuck)
        self._outbox.append(Write(self._entries))

    def _posted(self, now: float) -> None:  # noqa: ARG002  nothing is waited for
        self.result = blind_result(self._found)

    def _take(self, event: Event, now: float) -> None:
        """Nothing that this host says tells of markers."""

    def _due(self, now: float) -> None:
        self._posted(now)

    def _place(self, entry: Entry) -> None:
        kept = tuple(one for one in self._entries if (one.name, one.sent) != (entry.name, entry.sent))
        self._entries = (*kept, entry)
        self._outbox.append(Write(self._entries))
        self._outbox.extend(map(Send, entry.sent))
        self._entries = (*kept, replace(entry, state=State.LAID))
        self._outbox.append(Write(self._entries))

    def _take_back(self, entry: Entry) -> None:
        self._outbox.extend(map(Send, entry.undo or ()))
        self._entries = tuple(one for one in self._entries if one is not entry)
        self._outbox.append(Write(self._entries))


def blind_result(found: BlindDifference) -> Result:
    """Return the counts of a blind laying: nothing is verified."""
    moved = len(found.moved)
    return Result(
        placed=len(found.new) - moved,
        kept=len(found.kept),
        moved=moved,
        removed=len(found.old) - sum(entry.name in _moved_names(found) for entry in found.old),
        verified=0,
        unverified=len(found.new) + len(found.kept),
        failed=found.failed,
    )


def _moved_names(found: BlindDifference) -> set[str]:
    return {wanted.name for wanted, _ in found.new if wanted.index in found.moved}


def _entry(desk: Desk, wanted: Wanted) -> Entry:
    return Entry(
        name=wanted.name,
        state=State.ASKED,
        sent=desk.placing(wanted, free_id=wanted.index + 1),
        undo=desk.undoing(wanted),
    )
