"""The laying of markers in a host that reports none: sent once, never verified.

What was sent stands in the record, and only what differs from it is sent again.  The
record is written before and after each marker: after a crash exactly one may have been
sent or not; it is taken back first where the host map can, and else sent again, since
one too many is better than one too few.  This file knows nothing about sockets.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from bridge.hostmap import Event, HostMap, Ruler
from bridge.lay.desk import Desk
from bridge.lay.effect import Write, deed
from bridge.lay.options import Options
from bridge.lay.pacing import Pacing
from bridge.lay.record import Entry, State
from bridge.lay.result import Failure, Result
from bridge.lay.wanted import Wanted

__all__ = ["BlindDifference", "BlindLaying", "blind_difference"]

_NO_REPLY = "the host did not send the reply that its map awaits"
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


_Job = tuple[Callable[[Entry], None], Entry]


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
        self._jobs: deque[_Job] = deque()
        self._open: _Job | None = None
        """The job whose messages are under way."""
        self._was_given_up = False
        self._unanswered: set[str] = set()

    def _begin(self) -> None:
        """Line up what is to be done: first what has to go before its successor comes."""
        found = self._found
        new = {step for _, entry in found.new for step in entry.undo or ()}
        first = [entry for entry in found.old if new & set(entry.undo or ())]
        self._jobs.extend((self._take_back, entry) for entry in (*found.redo, *first))
        self._jobs.extend((self._place, entry) for _, entry in found.new)
        self._jobs.extend((self._take_back, entry) for entry in found.old if entry not in first)
        self._entries = tuple(one for one in self._entries if one not in found.stuck)
        self._write()

    def _posted(self, now: float) -> None:  # noqa: ARG002  nothing is waited for
        if self._open is not None:
            self._close(self._open)
        elif self._jobs:
            work, entry = self._jobs.popleft()
            self._was_given_up = False
            self._open = (work, entry)
            work(entry)
        else:
            self.result = blind_result(self._found, frozenset(self._unanswered))

    def _take(self, event: Event, now: float) -> None:
        """Nothing that this host says tells of markers."""

    def _due(self, now: float) -> None:
        self._posted(now)

    def _place(self, entry: Entry) -> None:
        self._entries = (*self._without(entry), entry)
        self._write()
        self._outbox.extend(deed(entry.sent))

    def _take_back(self, entry: Entry) -> None:
        self._outbox.extend(deed(entry.undo or ()))

    def _close(self, job: _Job) -> None:
        """Enter what came of a deed: a marker whose deed was given up stays open in the record."""
        work, entry = job
        self._open = None
        if self._was_given_up:
            self._unanswered.add(entry.name)
        elif work == self._place:
            self._entries = (*self._without(entry), replace(entry, state=State.LAID))
        else:
            self._entries = tuple(one for one in self._entries if one is not entry)
        self._write()

    def _given_up(self) -> None:
        self._was_given_up = True

    def _without(self, entry: Entry) -> tuple[Entry, ...]:
        return tuple(one for one in self._entries if (one.name, one.sent) != (entry.name, entry.sent))

    def _write(self) -> None:
        self._outbox.append(Write(self._entries))


def blind_result(found: BlindDifference, unanswered: frozenset[str] = frozenset()) -> Result:
    """Return the counts of a blind laying: nothing is verified; ``unanswered`` are names given up."""
    moved_names = _moved_names(found)
    done = [(one, one.index in found.moved) for one, _ in found.new if one.name not in unanswered]
    gone = [entry for entry in found.old if entry.name not in unanswered]
    moved = sum(is_moved for _, is_moved in done)
    return Result(
        placed=len(done) - moved,
        kept=len(found.kept),
        moved=moved,
        removed=len(gone) - sum(entry.name in moved_names for entry in gone),
        verified=0,
        unverified=len(done) + len(found.kept),
        failed=(*found.failed, *(Failure(name, _NO_REPLY) for name in sorted(unanswered))),
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
