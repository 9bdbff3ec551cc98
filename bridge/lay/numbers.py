"""Whether a host's numbers hold, and what a message that says a number alone could hit besides.

A host may count its markers anew at each change.  There, a removal by number that the
network doubles takes the next marker as well; where numbers are dealt out anew at each
listing, one that is late does.  So as long as it is not known that the numbers hold, and
the network was seen to do such things, nothing is removed that way whose message could
mean a marker of the user's a moment later.  Two markers placed after all others, the first
of which is removed again, tell whether numbers hold and endanger nothing.  This file knows
nothing about sockets or the record.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from itertools import pairwise

from bridge.hostmap import Handle, MarkerHeard, Step
from bridge.lay.listening import Key, Listening

__all__ = ["MOST_TRIALS", "TRIAL", "UNSAFE", "Numbers"]

TRIAL = "(trial)"
"""The name of the two markers that try, after all others, whether numbers hold."""
MOST_TRIALS = 3
UNSAFE = (
    "its map removes markers by number alone, this host may number them anew, and the network doubles"
    " packets or brings them out of order: a late one could take a marker of yours. Remove it in the host"
    " by hand, or let 'says.remove' send the name too, if the host checks it"
)
"""Why a marker of ours has to stay, and the way out."""

Removing = Callable[[MarkerHeard], tuple[Step, ...] | str]


class Numbers:
    """What has been learnt of a host's numbers."""

    def __init__(self) -> None:
        self.hold = False
        """It was seen that a removal shifts none."""
        self.shift = False
        """A marker was seen under another number than before."""
        self.is_learning = False
        """A removal was sent, and what it did to the numbers has not been seen yet."""
        self.trials = 0
        """How often two markers were placed for it; either may get lost."""
        self._before: dict[Handle, Key] = {}
        self._removed: Handle = None
        self._last: dict[Key, Handle] = {}

    def watch(self, listening: Listening, removed: Handle) -> None:
        """Remember what stands before the first of a row of removals."""
        if not self.is_learning:
            self.is_learning = True
            self._before, self._removed = listening.ids(), removed

    def learn(self, listening: Listening) -> None:
        """Compare with what stands now that all is known."""
        now = _singles(listening.ids())
        self.shift |= any(now.get(key, handle) != handle for key, handle in self._last.items())
        self._last = now
        if self.shift or not listening.ids_hold:
            self.hold = False
        elif self.is_learning:
            self.hold = survivors_kept_ids(self._before, listening.ids(), self._removed)
        self.is_learning = False

    def endangered(
        self, marker: MarkerHeard, users: Iterable[MarkerHeard], listening: Listening, removing: Removing,
        *, shifts: bool = True,
    ) -> bool:  # fmt: skip
        """Whether the message that removes ``marker`` could, come twice or late, hit one of ``users``.

        One that ``shifts`` no numbers itself could hit any of them, if it comes after one that does.

        It always could before all that stands is known, and whether the network doubles.
        """
        if self.hold:
            return False
        if not listening.suspects_doubles:
            return not (listening.ids_hold or listening.certain)
        if not listening.certain:
            return True
        ids_hold, steps = listening.ids_hold, removing(marker)
        near = (one for one in users if not (ids_hold and shifts) or _may_follow(one.id, marker.id))
        victims = any(removing(replace(one, id=marker.id)) == steps for one in near)
        if not victims or not listening.knows_doubles:
            return victims
        return not ids_hold or (listening.doubles and _is_a_row(listening.ids()))


def _singles(ids: Mapping[Handle, Key]) -> dict[Key, Handle]:
    """Return the id of each name and place that stands once."""
    often = Counter(ids.values())
    return {key: handle for handle, key in ids.items() if often[key] == 1}


def _is_a_row(handles: Iterable[Handle]) -> bool:
    """Whether ids could be a count of what stands: whole numbers, evenly apart."""
    numbers = sorted(number for handle in handles if (number := _number(handle)) is not None)
    return len({after - before for before, after in pairwise(numbers)}) <= 1


def _may_follow(users: Handle, ours: Handle) -> bool:
    one, other = _number(users), _number(ours)
    return one is None or other is None or one >= other


def _number(handle: Handle) -> int | None:
    if isinstance(handle, int):
        return handle
    if isinstance(handle, str) and handle.isascii() and handle.isdigit() and len(handle) < 20:
        return int(handle)
    return None


def survivors_kept_ids(before: dict[Handle, Key], after: dict[Handle, Key], removed: Handle) -> bool:
    """Whether a removal was done and shifted no id: every higher number still means its marker.

    False where that cannot be told.
    """
    if not isinstance(removed, int) or removed in after:
        return False
    higher = [handle for handle in before if isinstance(handle, int) and handle > removed]
    seen = [handle for handle in higher if handle in after]
    return bool(seen) and all(after[handle] == before[handle] for handle in seen)
