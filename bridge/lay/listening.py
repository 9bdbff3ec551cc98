"""Listings of a host's markers over a network that loses packets: what stands, and how sure is that.

A window begins with one request and ends when nothing new comes any more.  Only windows
opened well after the last change count, since an answer may be under way when a message
overtakes it.  Nothing is called missing by one listing: see :attr:`Listening.certain`.
This file knows nothing about whose marker is whose.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from fractions import Fraction

from bridge.hostmap import Event, Handle, MarkerEnd, MarkerGone, MarkerHeard
from bridge.lay.options import Options

__all__ = ["Key", "Listening", "key_of"]

Key = tuple[str, Fraction]
"""A marker's name and reported place: what it is known by."""

_UNANSWERED_GROWTH = 1.5
_ROUND_GROWTH = 1.3
_FIRST_QUIET = 0.25
"""Seconds without news after which a listing counts as over, until the host's own pace is known."""
_QUIET_TIMES = 2
_LONGEST_LAG = 2.0
_LONGEST_WINDOW = 5.0
_ENOUGH_LINES = 60
"""Of so many lines one would have come twice where only a tenth are doubled (1 in 500 that none did)."""
_SETTLED = 4
"""So many listings in a row bring nothing new before the whole counts as known."""


def key_of(marker: MarkerHeard) -> Key:
    """Return the name and place that a marker is known by."""
    return marker.name, marker.at.value


@dataclass(slots=True)
class _Window:
    opened: float
    is_calm: bool = False
    markers: dict[object, MarkerHeard] = field(default_factory=dict)
    """By id, or by name and place where the host tells none."""
    ended: bool = False
    first_at: float | None = None
    news_at: float | None = None
    _keys: set[Key] | None = None
    """Worked out once what was told stays as it is: with thousands of markers that takes time."""

    def put(self, known: object, marker: MarkerHeard) -> None:
        """Take a marker, in the place of what was told under the same id."""
        self.markers[known] = marker
        self._keys = None

    def drop(self, handle: Handle) -> None:
        """Forget the marker under an id."""
        if self.markers.pop(handle, None) is not None:
            self._keys = None

    def keys(self) -> set[Key]:
        """Return the names and places told."""
        if self._keys is None:
            self._keys = {key_of(marker) for marker in self.markers.values()}
        return self._keys

    def equals(self) -> dict[Key, list[MarkerHeard]]:
        found: dict[Key, list[MarkerHeard]] = {}
        for marker in self.markers.values():
            found.setdefault(key_of(marker), []).append(marker)
        return found


class Listening:
    """The listings since the last change to the host."""

    def __init__(self, options: Options, *, tells_end: bool) -> None:
        self._options = options
        self._tells_end = tells_end
        self._windows: list[_Window] = []
        self._base = options.shortest_gap
        self._gap = options.shortest_gap
        self._quiet = _FIRST_QUIET
        self._latency: float | None = None
        self._answered_after: deque[float] = deque(maxlen=_SETTLED)
        self._spread = 0.0
        self._changed_at = float("-inf")
        self.ever_answered = False
        self.silent = 0
        """Requests in a row to which nothing came."""
        self.suspects_doubles = False
        """Something came twice in one listing: the network doubles, or answers ran together."""
        self.doubles = False
        """Something came twice though nothing else was asked for shortly before: the network doubles."""
        self.is_calm = False
        """Requests leave so far apart that answers cannot run together."""
        self._calm_lines = 0

    @property
    def lag(self) -> float:
        """Seconds after a message to the host from which on its answers tell of its effect."""
        known = (self._latency or 0.0) * 1.25 + self._spread
        return min(_LONGEST_LAG, max(self._options.shortest_gap, known))

    @property
    def knows_doubles(self) -> bool:
        """Whether enough came in calm listings to tell whether the network doubles."""
        return self.doubles or not self.suspects_doubles or self._calm_lines >= _ENOUGH_LINES

    def _came_twice(self, window: _Window) -> None:
        self.suspects_doubles = True
        self.doubles |= window.is_calm

    @property
    def _round_trip(self) -> float:
        """Seconds between two requests at which the answers to one do not run into those to the next."""
        return (self._latency or 0.0) * 1.1

    def changed(self, now: float, *, rounds: int) -> None:
        """Begin anew after a change at ``now``; gaps grow with the ``rounds`` of asking again."""
        self._windows.clear()
        self._changed_at = now
        self.silent = 0
        longest = self._options.longest_gap
        grown = self._options.shortest_gap * _ROUND_GROWTH ** min(rounds, 20)
        self._base = min(longest, max(grown, self._round_trip))
        self._gap = self._base

    def open(self, now: float) -> None:
        """Begin a window: a request has just left."""
        before = self._windows[-1].opened if self._windows else float("-inf")
        self._windows.append(_Window(now, is_calm=now - before >= self._calm_gap and self.is_calm))

    def hear(self, event: Event, now: float) -> None:
        """Take what the host tells of its markers."""
        if not self._windows:
            return
        window = self._windows[-1]
        if isinstance(event, MarkerHeard):
            self._first_answer(now)
            self._take(window, event, now)
        elif isinstance(event, MarkerEnd):
            self._first_answer(now)
            if window.ended:
                self._came_twice(window)
            self._calm_lines += window.is_calm
            window.ended = True
            window.first_at = window.first_at or now
            window.news_at = window.news_at or now
        elif isinstance(event, MarkerGone):
            for one in self._windows:
                one.drop(event.id)

    @property
    def due(self) -> float:
        """When the window that is open ends, as far as is known now."""
        window = self._windows[-1]
        if window.news_at is None:
            return window.opened + max(self._gap, self._calm_gap if self.is_calm else 0.0)
        quiet = 0.0 if window.ended else self._quiet
        latest = window.opened + _LONGEST_WINDOW
        base = max(self._base, self._calm_gap) if self.is_calm else self._base
        return min(latest, max(window.opened + base, window.news_at + quiet))

    @property
    def _calm_gap(self) -> float:
        return max(self._options.longest_gap, 2 * self.lag)

    def close(self) -> None:
        """End the open window and learn the next gap from it."""
        window = self._windows[-1]
        if window.news_at is None:
            self.silent += 1
            self._gap = min(self._options.longest_gap, self._gap * _UNANSWERED_GROWTH)
        else:
            self.silent = 0
            self._learn_latency(window)
            self._gap = self._base
            self._spread = max(self._spread, min(_LONGEST_LAG, window.news_at - window.opened))

    @property
    def certain(self) -> bool:
        """Whether a marker not seen since the last change is missing.

        That takes sixteen answered listings without it, ten complete ones where the host
        tells the end of its list, the last four of which brought nothing new.
        """
        answered = self._answered()
        needed = self._options.complete_listings if self._tells_end else self._options.listings
        if len(answered) < needed:
            return False
        before = set().union(*(window.keys() for window in answered[:-_SETTLED]))
        return all(window.keys() <= before for window in answered[-_SETTLED:])

    def standing(self) -> tuple[MarkerHeard, ...]:
        """Return what stands in the host, equals as often as one listing showed them together."""
        windows = self._counting()
        if self.ids_hold:
            return _under_ids(windows)
        listings = [window.equals() for window in windows]
        listings = [listing for listing in listings if not _is_two_in_one(listing)] or listings
        shown: dict[Key, list[list[MarkerHeard]]] = {}
        for listing in listings:
            for key, equals in listing.items():
                shown.setdefault(key, []).append(equals)
        return tuple(marker for told in shown.values() for marker in _equals(told))

    def names(self) -> set[str]:
        """Return all names told of since the last change."""
        return {marker.name for window in self._counting() for marker in window.markers.values()}

    @property
    def ids_hold(self) -> bool:
        """Whether every id meant one and the same marker in all counted listings."""
        meaning: dict[Handle, MarkerHeard] = {}
        for window in self._counting():
            for marker in window.markers.values():
                first = meaning.setdefault(marker.id, marker)
                if first is not marker and key_of(first) != key_of(marker):
                    return False
        return True

    def lately_told(self, marker: MarkerHeard) -> bool:
        """Whether the latest listing told of ``marker`` under its id.

        An id from an earlier one may mean another marker by now: a host may count anew at
        each listing, and the line that says so may be the one that was lost.
        """
        told = self._windows[-1].markers.get(marker.id)
        return told is not None and key_of(told) == key_of(marker)

    def ids(self) -> dict[Handle, Key]:
        """Return what each id meant last."""
        return {m.id: key_of(m) for window in self._counting() for m in window.markers.values()}

    def _counting(self) -> list[_Window]:
        since = self._changed_at + self.lag
        return [window for window in self._windows if window.opened >= since]

    def _answered(self) -> list[_Window]:
        return [w for w in self._counting() if (w.ended if self._tells_end else w.markers)]

    def _first_answer(self, now: float) -> None:
        self.ever_answered = True
        if self._latency is None:
            self._latency = now - self._windows[0].opened
            self._base = min(self._options.longest_gap, max(self._base, self._round_trip))

    def _learn_latency(self, window: _Window) -> None:
        """Take the first answer's delay back where it was reckoned too long because requests were lost.

        Only where requests wait for answers, so that an answer belongs to the last one.
        """
        if self._latency is None or self._round_trip > self._options.longest_gap or window.first_at is None:
            return
        self._answered_after.append(window.first_at - window.opened)
        if len(self._answered_after) == _SETTLED:
            self._latency = min(self._latency, max(self._answered_after) * 1.25)

    def _take(self, window: _Window, marker: MarkerHeard, now: float) -> None:
        known = marker.id if marker.id is not None else key_of(marker)
        if window.markers.get(known) == marker:
            self._came_twice(window)
            return
        self._calm_lines += window.is_calm
        if window.markers and window.news_at is not None:
            self._learn_pace(now - window.news_at)
        window.put(known, marker)
        window.first_at = window.first_at or now
        window.news_at = now

    def _learn_pace(self, between: float) -> None:
        """Wait for the next marker of a list twice as long as the host ever took."""
        options = self._options
        slowest = max(between, self._quiet / _QUIET_TIMES if self._quiet != _FIRST_QUIET else 0.0)
        self._quiet = min(options.longest_gap, max(options.shortest_gap, _QUIET_TIMES * slowest))


def _is_two_in_one(listing: dict[Key, list[MarkerHeard]]) -> bool:
    """Whether so much is told twice that the answers to two questions ran into one another."""
    twice = sum(len(equals) > 1 for equals in listing.values())
    return twice * 3 > len(listing)


def _under_ids(windows: list[_Window]) -> tuple[MarkerHeard, ...]:
    """Return what stands where every id means one marker: each once, equals as often as shown together."""
    under: dict[object, MarkerHeard] = {}
    for window in windows:
        under.update(window.markers)
    alike: dict[Key, list[object]] = {}
    for known, marker in under.items():
        alike.setdefault(key_of(marker), []).append(known)
    standing: list[MarkerHeard] = []
    for ids in alike.values():
        if len(ids) == 1:
            standing.append(under[ids[0]])
            continue
        shown = [[window.markers[one] for one in ids if one in window.markers] for window in windows]
        standing.extend(_equals([equals for equals in shown if equals]))
    return tuple(standing)


def _equals(shown: list[list[MarkerHeard]]) -> list[MarkerHeard]:
    """Return as many equals as enough listings showed at once, with the ids of the latest that did.

    One listing alone is no proof: answers to two requests may have run into one another.
    """
    enough = 2 if len(shown) >= _SETTLED else 1
    counts = sorted((len(markers) for markers in shown), reverse=True)
    count = counts[min(enough, len(counts)) - 1]
    latest = next(markers for markers in reversed(shown) if len(markers) >= count)
    return sorted(latest, key=lambda marker: str(marker.id))[:count]
