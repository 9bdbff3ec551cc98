"""A pass as it goes: its line in time, and what is due next in it, bar by bar.

The next bar is made in a quiet moment of the one that is played: a barline is when most
is due.  This file knows nothing about why a pass goes as it does.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable

from bridge.cues import Bar
from bridge.exact import Length, Ratio
from bridge.show.agenda import Item, bar_items
from bridge.show.passing import Pass
from bridge.show.tempo_line import TempoLine

__all__ = ["Playing"]

_A_FIFTH = Ratio("1/5")


class Playing:
    """One pass, from ``since`` on; ``deeds`` names what a host has to do in it, if anything."""

    def __init__(
        self,
        passed: Pass,
        *,
        since: Length,
        sent: Iterable[str] = (),
        deeds: Callable[[Pass, Length], Iterable[Item]] = lambda _passed, _since: (),
    ) -> None:
        self.passed = passed
        self.line: TempoLine | None = None
        """None while the transport stands still."""
        self.sent = set(sent)
        """The keys of the cues that went out."""
        self._deeds = deeds
        self._timed: tuple[Length, float] = (since, float(passed.axis.seconds(since)))
        """The last place that was timed, and its seconds from the section's start."""
        self._seat(since)

    def revise(self, passed: Pass, *, since: Length) -> None:
        """Go on in the same pass otherwise from ``since`` on."""
        self.passed = passed
        self._timed = since, float(passed.axis.seconds(since))
        if self.line is not None:
            self.line = TempoLine(axis=passed.axis, at=self.line.at, into=self.line.into, rate=self.line.rate)
        self._seat(since)

    @property
    def next_into(self) -> Length:
        """Where something is due next: an item, the making of the next bar, or the barline."""
        here = self._items[0].into if self._items else self._ends
        return here if self._made is not None or here < self._quiet else self._quiet

    @property
    def next_due(self) -> float | None:
        """When something is due next; None while nothing moves."""
        if self.line is None:
            return None
        into = self.next_into
        if into is not self._timed[0]:
            self._timed = into, float(self.passed.axis.seconds(into))
        return self.line.due_at(self._timed[1])

    def take(self) -> Item | None:
        """Return the item that is due next, taken off; None where it is not an item that is due."""
        if self._made is None and self.next_into == self._quiet:
            self._make()
            return None
        if self._items:
            return self._items.popleft()
        if not self.is_over:
            self._turn_over()
        return None

    @property
    def is_over(self) -> bool:
        """Whether all is done up to the place where the pass is left."""
        return not self._items and self._made is not None and self._ends == self.passed.leaves

    @property
    def in_last_bar(self) -> bool:
        """Whether the pass is left at the end of the bar that is played."""
        return self._ends == self.passed.leaves

    def _seat(self, since: Length) -> None:
        self._show(self.passed.axis.bar_at(since), self._items_of(self.passed.axis.bar_at(since), since))

    def _items_of(self, bar: Bar, since: Length) -> list[Item]:
        return bar_items(self.passed, bar, since=since, sent=self.sent, deeds=self._deeds(self.passed, since))

    def _show(self, bar: Bar, items: Iterable[Item]) -> None:
        self._bar = bar
        self._items = deque(items)
        self._made: tuple[Bar, list[Item]] | None = None
        leaves = self.passed.leaves
        self._ends = bar.end if leaves is None else min(bar.end, leaves)
        self._quiet = _quiet_place(bar, [item.into for item in self._items], self._ends)

    def _make(self) -> None:
        """Make the next bar; where the pass ends there is none, which is made just as soon."""
        following = self.passed.axis.bar(self._bar.number + 1)
        is_last = self._ends == self.passed.leaves
        self._made = (following, [] if is_last else self._items_of(following, following.start))

    def _turn_over(self) -> None:
        if self._made is None:
            self._make()
        assert self._made is not None  # noqa: S101  made in the line above
        self._show(*self._made)


def _quiet_place(bar: Bar, places: list[Length], end: Length) -> Length:
    """Return a place a little after the beginning of the longest gap between what is due in a bar."""
    stops = [*places, end]
    start = places[0] if places else bar.start
    gaps = [(after - before, before) for before, after in zip([start, *stops], stops, strict=False)]
    gap, begins = max(gaps, key=lambda one: (one[0].whole_notes, -one[1].whole_notes))
    return begins + gap * _A_FIFTH if gap > Length(0) else end
