"""What was asked of the host in this laying, what came of it, and the record as it grows.

This file knows nothing about time or messages.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bridge.hostmap import MarkerHeard
from bridge.lay.listening import Key, key_of
from bridge.lay.numbers import UNSAFE
from bridge.lay.owner import Survey
from bridge.lay.record import Entry, State
from bridge.lay.renaming import Renaming
from bridge.lay.result import Failure, Result
from bridge.lay.wanted import Wanted

__all__ = ["MOVED", "Describe", "Ledger"]

Describe = Callable[[Wanted, MarkerHeard], str]
"""Says how a marker came out otherwise than it was asked for."""

_RENAMINGS = 4
"""How often a new name is sent before the marker is placed anew and the old one removed."""
MOVED = "moved in the host"
"""The reason of the contract for a marker that the user moved."""

TAKEN = "a marker of yours has this name, and this host holds each name once: rename one of the two"


@dataclass(slots=True)
class _Asked:
    """One wanted marker that was sent."""

    known: Counter[Key]
    """What stood before it was sent for the first time."""
    moves: bool
    tries: int = 0
    renamings: int = 0
    """How many of the tries renamed a marker of ours."""
    is_renamed: bool = False
    """The last one did."""
    strange: str | None = None


class Ledger:
    """The entries of the record, and the books of one laying."""

    def __init__(
        self, wanted: Sequence[Wanted], entries: tuple[Entry, ...], *, unit: str, tries: int
    ) -> None:
        self.entries = entries
        self.rounds = 0
        """How often something had to be asked for again."""
        self._wanted = wanted
        self._unit = unit
        self._tries = tries
        self._written = entries
        self._asked: dict[int, _Asked] = {}
        self._removals: Counter[Key] = Counter()
        self._doubles: set[Key] = set()
        self._singles: set[Key] = set()
        """What is known to stand once, so that its id need not tell it from an equal."""
        self._trials: set[Key] = set()
        """What was placed to try something, and is removed again."""
        self._stuck: dict[Key, str] = {}
        self._taken: set[str] = set()
        """Names that a marker of the user's has, in a host that holds each name only once."""

    @property
    def sent(self) -> int:
        """How many placings were sent."""
        return sum(asked.tries for asked in self._asked.values())

    def could_be_plain(self, names: set[str]) -> bool:
        """Whether at least the names of all that is wanted have been told."""
        return all(wanted.name in names for wanted in self._wanted if wanted.refusal is None)

    def is_plain(self, found: Survey) -> bool:
        """Whether nothing is missing and every id agrees, so that one listing tells all."""
        unsure = {key_of(found.standing[marker]) for marker in found.unsure}
        return unsure <= self._singles and not self._unexplained(found) and not self.missing(found)

    def needs_certainty(self, found: Survey) -> bool:
        """Whether something was changed or asked for, so that doubles and losses have to be looked for."""
        asked = any(entry.state is State.ASKED for entry in self.entries)
        return bool(self._asked or self._removals or asked or found.lost or found.surplus)

    def _unexplained(self, found: Survey) -> bool:
        return any((self.entries[e].name, self.entries[e].at) not in self._removals for e in found.lost)

    def learn_ids(self, found: Survey) -> None:
        """Take over the ids of this complete listing; they are handles and nothing more."""
        self._singles = {key for key, number in Counter(map(key_of, found.standing)).items() if number == 1}
        entries = list(self.entries)
        for marker, number in found.owner.items():
            if entries[number].state is State.LAID:
                entries[number] = replace(entries[number], id=found.standing[marker].id)
        self.entries = tuple(entries)

    def retake(self, found: Survey) -> None:
        """Own what the user moved at the place it has now, so that it is moved like any other."""
        entries = list(self.entries)
        for number, marker in found.moved.items():
            told = found.standing[marker]
            entries[number] = replace(entries[number], at=told.at.value, step=told.at.step)
        self.entries = tuple(entries)

    def adopt(self, found: Survey) -> list[str]:
        """Take over what stands where the plan wants it and is not ours; return the names."""
        adopted = []
        for index, marker in found.met.items():
            if marker not in found.owner and not self._has_adopted(found.standing[marker]):
                self.entries += (self._laid(self._wanted[index], found.standing[marker]),)
                adopted.append(self._wanted[index].name)
        return adopted

    def _has_adopted(self, told: MarkerHeard) -> bool:
        return any(
            entry.name == told.name and entry.at == told.at.value and entry.state is State.LAID
            for entry in self.entries
        )

    def missing(self, found: Survey) -> list[Wanted]:
        """Return the wanted ones that do not stand and can be placed (again)."""
        held = self._held(found)
        return [
            wanted
            for wanted in self._wanted
            if wanted.index not in found.met
            and wanted.index not in found.strange
            and wanted.index not in held
            and wanted.refusal is None
            and wanted.name not in self._taken
            and self._may_ask(wanted)
        ]

    def keep_names(self, found: Survey) -> None:
        """Take back no name from the user: where each is held once, placing it would move theirs."""
        met = set(found.met.values())
        self._taken = {
            told.name
            for number, told in enumerate(found.standing)
            if number not in found.owner and number not in met
        }

    def _may_ask(self, wanted: Wanted) -> bool:
        asked = self._asked.get(wanted.index)
        return asked is None or (asked.strange is None and asked.tries < self._tries)

    def _held(self, found: Survey) -> set[int]:
        """Return the wanted ones whose marker the user moved."""
        held: set[int] = set()
        for number in found.moved:
            entry = self.entries[number]
            open_ones = [
                w for w in self._wanted
                if w.name == entry.name and w.index not in found.met and w.index not in held
            ]  # fmt: skip
            open_ones.sort(key=lambda w: abs(w.at - entry.at))
            held.update(w.index for w in open_ones[:1])
        return held

    def may_rename(self, wanted: Wanted) -> bool:
        """Whether it is worth trying (again) that a marker of ours gets the name of ``wanted``."""
        asked = self._asked.get(wanted.index)
        return asked is None or asked.tries == asked.renamings < _RENAMINGS

    def ask(self, found: Survey, to_place: Iterable[Wanted], renamed: Mapping[int, Renaming]) -> None:
        """Enter what is about to be sent, so that it is ours from then on; ``renamed`` by wanted index."""
        known = Counter(map(key_of, found.standing))
        old = self._old_names(found)
        for wanted in to_place:
            asked = self._asked.get(wanted.index)
            if asked is None:
                asked = self._asked[wanted.index] = _Asked(known, moves=old[wanted.name] > 0)
                old[wanted.name] -= 1
            asked.tries += 1
            asked.is_renamed = wanted.index in renamed
            asked.renamings += asked.is_renamed
            self.rounds = max(self.rounds, asked.tries - 1)
            self._enter(found, wanted)
        self._written = self.entries

    def try_out(self, trials: Iterable[Wanted]) -> None:
        """Enter what is about to be placed to try something: ours, and wanted nowhere."""
        for one in trials:
            self._trials.add((one.name, one.at))
            self.entries += (self._asked_for(one),)
        self._written = self.entries

    def _old_names(self, found: Survey) -> Counter[str]:
        """Count, by name, the markers of ours that go or have gone from where they stood."""
        going = {key_of(found.standing[marker]) for marker in found.surplus}
        gone = {key for key in self._removals if key not in self._doubles}
        return Counter(name for name, _ in going | gone)

    def _enter(self, found: Survey, wanted: Wanted) -> None:
        entry = self._asked_for(wanted)
        owning = set(found.owner.values())
        kept = [
            old
            for number, old in enumerate(self.entries)
            if number in owning or old.name != wanted.name or abs(old.at - wanted.at) > wanted.cap
        ]
        self.entries = (*kept, entry)

    def _asked_for(self, wanted: Wanted) -> Entry:
        return Entry(
            name=wanted.name,
            state=State.ASKED,
            unit=self._unit,
            at=wanted.at,
            step=wanted.step,
            cap=wanted.cap,
        )

    def find_strange(self, found: Survey, describe: Describe, *, ids_hold: bool) -> None:
        """Find what came out under another name or elsewhere: it is not sent again.

        Where ``ids_hold``, one more than before of what stood already is new as well.
        """
        fresh = [told for number, told in enumerate(found.standing) if number not in found.owner]
        taken: set[int] = set()
        for wanted in self.missing(found):
            asked = self._asked.get(wanted.index)
            if asked is None:
                continue
            for number, told in enumerate(fresh):
                before = asked.known[key_of(told)]
                new = not before or (ids_hold and self._count_of(found, key_of(told)) > before)
                alike = wanted.stands_at(told.at) or told.name == wanted.name
                if new and alike and number not in taken:
                    taken.add(number)
                    asked.strange = describe(wanted, told)
                    self._mark_strange(wanted, told)
                    break

    def _mark_strange(self, wanted: Wanted, told: MarkerHeard) -> None:
        self.entries = tuple(
            replace(entry, state=State.STRANGE, seen=key_of(told), id=told.id)
            if entry.state is State.ASKED and entry.name == wanted.name and entry.at == wanted.at
            else entry
            for entry in self.entries
        )

    def surplus(self, found: Survey, *, certain: bool) -> list[int]:
        """Return our markers that can go, unless they are still needed.

        Where not all is ``certain``, only those known to stand once: an equal of the
        user's must have had its chance to be told of.
        """
        return [
            marker
            for marker in found.surplus
            if (certain or key_of(found.standing[marker]) in self._singles)
            and not self._replacement_failed(found, found.standing[marker])
        ]

    def _is_double(self, told: MarkerHeard) -> bool:
        return any(wanted.is_met_by(told) for wanted in self._wanted)

    def _replacement_failed(self, found: Survey, told: MarkerHeard) -> bool:
        """Whether the section of an old marker has no new one that stands: then the old one stays."""
        if self._is_double(told):
            return False
        held = self._held(found)
        return any(
            wanted.name == told.name
            and wanted.index not in found.met
            and (
                wanted.refusal is not None
                or wanted.index in found.strange
                or wanted.index in held
                or not self._may_ask(wanted)
            )
            for wanted in self._wanted
        )

    def removals_of(self, told: MarkerHeard) -> int:
        """Return how often the removal of ``told`` was sent."""
        return self._removals[key_of(told)]

    def removing(self, found: Survey, number: int) -> bool:
        """Enter that the removal of a marker is about to be sent; tell whether the record has to know.

        It has to where an equal of the user's stays: after a crash that one must not be
        taken for ours.
        """
        told = found.standing[number]
        key = key_of(told)
        equals = (marker for marker, one in enumerate(found.standing) if key_of(one) == key)
        rest = sum(marker not in found.owner for marker in equals)
        if self._is_double(told):
            self._doubles.add(key)
        self.rounds = max(self.rounds, self._removals[key])
        self._removals[key] += 1
        entries = list(self.entries)
        entries[found.owner[number]] = replace(entries[found.owner[number]], rest=rest)
        self.entries = tuple(entries)
        return rest > 0

    def cannot_remove(self, told: MarkerHeard, why: str) -> None:
        """Enter why ``told`` has to stay."""
        self._stuck[key_of(told)] = why

    def is_unsafe(self, told: MarkerHeard) -> bool:
        """Whether ``told`` stays only for want of knowing whether the host's numbers hold."""
        return self._stuck.get(key_of(told)) == UNSAFE

    def settle(self, found: Survey, *, certain: bool) -> bool:
        """Bring the record up to what stands; tell whether that changes it."""
        if certain:
            self.entries = tuple(self._settled(found))
        changed = self.entries != self._written
        self._written = self.entries
        return changed

    def _settled(self, found: Survey) -> Iterable[Entry]:
        owned: dict[int, list[MarkerHeard]] = {}
        for marker, number in found.owner.items():
            owned.setdefault(number, []).append(found.standing[marker])
        for number, entry in enumerate(self.entries):
            markers = owned.get(number, [])
            if len(markers) == 1:
                yield self._seen(entry, markers[0])
            elif markers or number not in found.lost or self._is_awaited(entry):
                yield entry

    def _is_awaited(self, entry: Entry) -> bool:
        """Whether an entry's marker was sent and not seen as asked: it may yet appear, and is then ours."""
        return entry.state is not State.LAID and any(
            wanted.name == entry.name and wanted.at == entry.at and wanted.index in self._asked
            for wanted in self._wanted
        )

    def _seen(self, entry: Entry, told: MarkerHeard) -> Entry:
        return replace(
            entry,
            state=State.LAID,
            at=told.at.value,
            step=told.at.step,
            id=told.id,
            seen=None,
            unit=self._unit,
        )

    def _laid(self, wanted: Wanted, told: MarkerHeard) -> Entry:
        entry = Entry(name=wanted.name, state=State.ASKED, cap=wanted.cap)
        return self._seen(entry, told)

    def result(self, found: Survey, *, why: str, silent: bool, unfinished: Survey | None) -> Result:
        """Return the counts, and each marker that failed with its reason; ``why`` for the unseen ones.

        ``unfinished`` is the last survey when there was no time to see what became of it.
        """
        left = set() if unfinished is None else {key_of(unfinished.standing[m]) for m in unfinished.surplus}
        asked = self._asked
        renamed = sum(one.is_renamed for one in asked.values())
        moved = sum(one.moves and not one.is_renamed for one in asked.values())
        standing = left | set(map(key_of, found.standing))
        going = (key for key in self._removals if key not in standing and key not in self._doubles)
        gone = Counter(key[0] for key in going if not self._is_trial(key))
        gone -= Counter(self._wanted[i].name for i, one in asked.items() if one.moves and not one.is_renamed)
        return Result(
            placed=len(asked) - moved - renamed,
            kept=sum(index not in asked for index in found.met),
            moved=moved,
            removed=gone.total(),
            renamed=renamed,
            verified=len(found.met),
            unverified=sum(index not in found.met for index in asked),
            failed=tuple(self._failures(found, why, left)),
            silent=silent,
        )

    def _failures(self, found: Survey, why: str, left: set[Key]) -> Iterable[Failure]:
        held = self._held(found)
        for wanted in self._wanted:
            if wanted.index not in found.met:
                yield Failure(wanted.name, self._reason(found, wanted, held, why))
        open_names = [w.name for w in self._wanted if w.index in held]
        for number in found.moved:
            if (name := self.entries[number].name) in open_names:
                open_names.remove(name)
            else:
                yield Failure(name, MOVED)
        standing = left | set(map(key_of, found.standing))
        for key in dict.fromkeys((*self._stuck, *self._removals, *sorted(left))):
            if key in standing and not (key in self._doubles and self._count_of(found, key) < 2):
                yield Failure(key[0], self._stuck.get(key, why))

    def _is_trial(self, key: Key) -> bool:
        return any(entry[0] == key[0] for entry in self._trials)

    def _count_of(self, found: Survey, key: Key) -> int:
        return sum(key_of(told) == key for told in found.standing)

    def _reason(self, found: Survey, wanted: Wanted, held: set[int], why: str) -> str:
        asked = self._asked.get(wanted.index)
        if wanted.index in held:
            return MOVED
        if asked is not None and asked.strange is not None:
            return asked.strange
        if wanted.index in found.strange:
            entry = self.entries[found.strange[wanted.index]]
            name = entry.seen[0] if entry.seen else ""
            if name != wanted.name:
                return f"it stands under another name since it was laid: {name!r}"
            return "it stands beside its place since it was laid"
        if wanted.name in self._taken:
            return TAKEN
        return wanted.refusal or why
