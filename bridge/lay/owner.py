"""Whose marker is it: the record, what stands in the host, and what the plan wants, matched.

A marker is ours when the record has its name and its place as last reported; the id
decides between equals only, for hosts hand ids out anew.  This file knows nothing about
messages or time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from bridge.hostmap import MarkerHeard
from bridge.lay.record import Entry, State
from bridge.lay.wanted import Wanted

__all__ = ["Survey", "survey"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """Who is who; markers, entries and wanted ones by their index."""

    standing: tuple[MarkerHeard, ...]
    met: Mapping[int, int]
    """Wanted to the marker that stands where and as it is wanted."""
    owner: Mapping[int, int]
    """Marker to the entry that makes it ours."""
    moved: Mapping[int, int]
    """Entry to the marker that the user moved: the same name and id at another place."""
    strange: Mapping[int, int]
    """Wanted to the entry that came out under another name or at another place."""
    lost: frozenset[int]
    """Entries of which nothing stands."""
    unsure: frozenset[int]
    """Markers taken for ours under another id than the record has: an equal may not have been seen."""

    @property
    def surplus(self) -> tuple[int, ...]:
        """Ours that the plan does not want where they stand."""
        met = set(self.met.values())
        return tuple(marker for marker in self.owner if marker not in met)


def survey(wanted: Sequence[Wanted], entries: Sequence[Entry], standing: tuple[MarkerHeard, ...]) -> Survey:
    """Match the three, each marker once."""
    matching = _Matching(wanted, entries, standing)
    matching.by_place()
    matching.by_id()
    strange = matching.strange()
    met = matching.met()
    matching.take_moved_that_are_met(met)
    return Survey(
        standing=standing,
        met=met,
        owner=matching.owner,
        moved=matching.moved,
        strange={w: e for w, e in strange.items() if w not in met},
        lost=frozenset(range(len(entries))) - matching.found,
        unsure=frozenset(matching.unsure),
    )


class _Matching:
    def __init__(
        self, wanted: Sequence[Wanted], entries: Sequence[Entry], standing: tuple[MarkerHeard, ...]
    ) -> None:
        self._wanted = wanted
        self._entries = entries
        self._standing = standing
        self._by_name: dict[str, list[int]] = {}
        for marker, told in enumerate(standing):
            self._by_name.setdefault(told.name, []).append(marker)
        self.owner: dict[int, int] = {}
        self.moved: dict[int, int] = {}
        self.found: set[int] = set()
        self.unsure: set[int] = set()

    def by_place(self) -> None:
        """Own what stands under an entry's name at its place: one for LAID, all for ASKED."""
        for same_id in (True, False):
            for number, entry in self._of(State.LAID):
                if number in self.found:
                    continue
                marker = next(self._free(entry, same_id=same_id), None)
                if marker is not None and self._is_beyond_the_rest(entry):
                    self._own(marker, number)
                    self.unsure.update(() if same_id else (marker,))
        for number, entry in self._of(State.ASKED, State.STRANGE):
            for marker in list(self._free(entry, same_id=False)):
                self._own(marker, number)

    def by_id(self) -> None:
        """Find what the user moved."""
        for number, entry in self._of(State.LAID):
            if number in self.found or entry.id is None:
                continue
            for marker in self._by_name.get(entry.name, ()):
                taken = marker in self.owner or marker in self.moved.values()
                if not taken and self._standing[marker].id == entry.id:
                    self.moved[number] = marker
                    self.found.add(number)
                    break

    def strange(self) -> dict[int, int]:
        """Find the wanted ones that stand, but otherwise than they were asked for."""
        found: dict[int, int] = {}
        for number, entry in self._of(State.STRANGE):
            if number in self.found or entry.seen is None:
                continue
            if not any((told.name, told.at.value) == entry.seen for told in self._standing):
                continue
            self.found.add(number)
            for wanted in self._wanted:
                if wanted.name == entry.name and abs(wanted.at - entry.at) <= wanted.cap:
                    found[wanted.index] = number
        return found

    def met(self) -> dict[int, int]:
        """Give each wanted marker one that stands as wanted, ours first."""
        found: dict[int, int] = {}
        used: set[int] = set()
        for wanted in self._wanted:
            fits = [
                marker
                for marker in self._by_name.get(wanted.name, ())
                if marker not in used and wanted.stands_at(self._standing[marker].at)
            ]
            if fits:
                found[wanted.index] = min(fits, key=self._rank)
                used.add(found[wanted.index])
        return found

    def take_moved_that_are_met(self, met: Mapping[int, int]) -> None:
        """Own again what the user moved to where the plan wants it."""
        for number, marker in list(self.moved.items()):
            if marker in met.values():
                del self.moved[number]
                self.owner[marker] = number

    def _rank(self, marker: int) -> int:
        if marker in self.owner:
            return 0
        return 1 if marker in self.moved.values() else 2

    def _of(self, *states: State) -> Iterable[tuple[int, Entry]]:
        return [(number, entry) for number, entry in enumerate(self._entries) if entry.state in states]

    def _free(self, entry: Entry, *, same_id: bool) -> Iterator[int]:
        for marker in self._by_name.get(entry.name, ()):
            told = self._standing[marker]
            if marker not in self.owner and entry.stands_at(told.at) and (not same_id or told.id == entry.id):
                yield marker

    def _is_beyond_the_rest(self, entry: Entry) -> bool:
        """Whether more stands than the equals that stay when an entry's own marker is removed."""
        return not entry.rest or sum(1 for _ in self._free(entry, same_id=False)) > entry.rest

    def _own(self, marker: int, number: int) -> None:
        self.owner[marker] = number
        self.found.add(number)
