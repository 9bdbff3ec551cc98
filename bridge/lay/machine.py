"""The laying of markers in a host that reports them: a pure state machine.

Told what the host says and what time it is, it returns what to do, in order: write the
record, send, say.  The shell does exactly that and nothing else, so a test can stop it
after any step.

    compare -> listing -> (place | remove)* -> listing -> done

Every change is followed by listings until what stands is known again.  Nothing is sent
before the record that makes it ours is written.  A new marker is placed and seen before
the old one is removed, so that at any instant each section has its marker.  This file
knows nothing about sockets, files or clocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import Enum, auto

from bridge.hostmap import Event, Handle, HostMap, MarkerHeard, Names, Ruler, Step
from bridge.lay.desk import Desk
from bridge.lay.effect import Say, Write, deed
from bridge.lay.ledger import Ledger
from bridge.lay.listening import Listening
from bridge.lay.numbers import MOST_TRIALS, TRIAL, UNSAFE, Numbers
from bridge.lay.options import Options
from bridge.lay.owner import Survey, survey
from bridge.lay.pacing import Pacing
from bridge.lay.record import Entry
from bridge.lay.renaming import Renaming, Saying, renamings
from bridge.lay.wanted import Wanted

__all__ = ["Laying"]

_ENOUGH = 5
"""Of so many messages at least one arrives even when every fourth gets lost (1 in 1000 that none does)."""


_MANY = 4
"""For more removals than this it pays to find out first whether ids hold."""


class _Phase(Enum):
    LISTING = auto()
    CHANGING = auto()
    SETTLING = auto()


class Laying(Pacing):
    """Lay ``wanted`` in a host that reports its markers, starting from the record's ``entries``."""

    def __init__(
        self,
        ruler: Ruler,
        host: HostMap,
        wanted: Iterable[Wanted],
        entries: Iterable[Entry],
        options: Options | None = None,
    ) -> None:
        super().__init__(ruler, host, options or Options())
        self._wanted = tuple(wanted)
        self._desk = Desk(ruler, host)
        self._ledger = Ledger(
            self._wanted, tuple(entries), unit=str(host.hears["marker"].unit), tries=self.options.tries
        )
        self._listening = Listening(self.options, tells_end="marker_end" in host.hears)
        self._phase = _Phase.LISTING
        self._last: Survey | None = None
        self._waits = False
        """Nothing is left to do but to be certain."""
        self._numbers = Numbers()
        self._looks_for_doubles = False

    def _begin(self) -> None:
        self._ask()

    def _take(self, event: Event, now: float) -> None:
        if self._phase is _Phase.LISTING and not self._outbox:
            self._listening.hear(event, now)
            self._until = self._listening.due

    def _posted(self, now: float) -> None:
        if self._phase is _Phase.LISTING:
            self._listening.open(now)
            self._until = self._listening.due
        else:
            self._listening.changed(now, rounds=self._ledger.rounds)
            self._waits = False
            self._phase = _Phase.SETTLING
            self._until = now + self._lag

    @property
    def _lag(self) -> float:
        """Seconds to wait before it is asked what a change did.

        A removal by a number that may be dealt out anew must have arrived, however late, by then.
        """
        if self._desk.removes_by_id and self._numbers.is_learning and not self._numbers.hold:
            return max(self._listening.lag, self.options.longest_gap)
        return self._listening.lag

    def _due(self, now: float) -> None:
        if self._phase is _Phase.SETTLING:
            self._ask()
        else:
            self._listening.close()
            self._decide(now)

    def _ask(self) -> None:
        self._phase = _Phase.LISTING
        self._outbox.extend(deed(self._desk.listing()))

    def _decide(self, now: float) -> None:
        """After a listing: ask again, change something, or end."""
        if now - self._started_at >= self.options.lasts:
            self._finish(self._latest(), certain=False, why="time ran out before the host confirmed it")
            return
        certain = self._listening.certain
        if self._listening.silent >= self.options.listings:
            why = self._silence()
            if why is not None:
                self._finish(self._latest(), certain=False, why=why)
                return
            certain = True
        if not certain and (self._waits or not self._ledger.could_be_plain(self._listening.names())):
            self._ask()
            return
        found = self._survey()
        if certain:
            self._ledger.learn_ids(found)
        if certain or self._ledger.is_plain(found):
            self._act(found, certain=certain)
        else:
            self._ask()

    def _silence(self) -> str | None:
        """Return why silence ends the laying; None when it means that the host is empty."""
        if self._listening.ever_answered:
            empty = (
                self._last is not None and not self._last.standing and "marker_end" not in self._host.hears
            )
            return None if empty else "the host stopped answering before it confirmed this"
        if "marker_end" in self._host.hears:
            return "the host does not answer"
        return None if self._ledger.sent < _ENOUGH else "the host never told of it"

    def _latest(self) -> Survey:
        """Return what is known when there is no time to ask again: the fuller of the last two surveys."""
        found = self._survey()
        return self._last if self._last is not None and len(self._last.met) > len(found.met) else found

    def _survey(self) -> Survey:
        found = survey(self._wanted, self._ledger.entries, self._listening.standing())
        if self.options.put_back and found.moved:
            self._ledger.retake(found)
            found = survey(self._wanted, self._ledger.entries, found.standing)
        return found

    def _act(self, found: Survey, *, certain: bool) -> None:
        self._last = found
        if certain:
            self._numbers.learn(self._listening)
        if self.options.adopt:
            for name in self._ledger.adopt(found):
                self._outbox.append(Say(f"taken over: {name!r}"))
        if certain:
            self._ledger.find_strange(found, self._desk.describe, ids_hold=self._listening.ids_hold)
        if self._host.names is Names.ONCE:
            self._ledger.keep_names(found)
        removals = self._removals(found, certain=certain)
        missing = self._ledger.missing(found) if certain else []
        renamed = self._renamed(found, missing)
        for one in renamed.values():
            removals.pop(one.marker, None)
        blocked = self._blocked(removals)
        to_place = [wanted for wanted in missing if wanted.index not in blocked]
        if to_place:
            self._place(found, to_place, renamed)
        elif removals:
            self._remove(found, removals, certain=certain)
        else:
            self._end(found, certain=certain)

    def _end(self, found: Survey, *, certain: bool) -> None:
        """End where all is as it can be, or find out what would let more be done."""
        if self._looks_for_doubles:
            self._ask()
        elif certain and self._may_try_numbers(found):
            self._try_numbers(found)
        elif certain or not self._ledger.needs_certainty(found):
            self._finish(found, certain=True)
        else:
            self._waits = True
            self._ask()

    def _renamed(self, found: Survey, missing: list[Wanted]) -> Mapping[int, Renaming]:
        """Return which of ours get the name of one that is missing, once all that stands is known."""
        worth = [wanted for wanted in missing if self._ledger.may_rename(wanted)]
        leaving = self._ledger.surplus(found, certain=True) if worth else []
        users = [told for number, told in enumerate(found.standing) if number not in found.owner]

        def may_hit(told: MarkerHeard, saying: Saying) -> bool:
            if not self._desk.renames_by_id:
                return False
            endangered = self._numbers.endangered(told, users, self._listening, saying, shifts=False)
            return endangered or not self._listening.lately_told(told)

        return renamings(self._desk, found, worth, leaving, may_hit)

    def _place(self, found: Survey, to_place: list[Wanted], renamed: Mapping[int, Renaming]) -> None:
        self._compare()
        self._ledger.ask(found, to_place, renamed)
        self._post_placings(found, to_place, renamed)

    def _post_placings(
        self, found: Survey, to_place: Iterable[Wanted], renamed: Mapping[int, Renaming]
    ) -> None:
        """Post the record that makes them ours, and then what places them."""
        self._outbox.append(Write(self._ledger.entries))
        free_id = 1 + max((m.id for m in found.standing if isinstance(m.id, int)), default=0)
        for offset, wanted in enumerate(to_place):
            if wanted.index in renamed:
                self._outbox.extend(deed(renamed[wanted.index].steps))
            else:
                self._outbox.extend(deed(self._desk.placing(wanted, free_id=free_id + offset)))
        self._phase = _Phase.CHANGING

    def _may_try_numbers(self, found: Survey) -> bool:
        """Whether all that is left to go could be told from the user's if numbers were known to hold.

        Only in a host that was seen to keep names and places as they were asked for.
        """
        faithful = any(marker in found.owner for marker in found.met.values())
        is_left = any(self._ledger.is_unsafe(found.standing[marker]) for marker in found.surplus)
        may = not self._numbers.shift and self._listening.ids_hold and self._numbers.trials < MOST_TRIALS
        return is_left and faithful and may and self._host.names is Names.MANY

    def _try_numbers(self, found: Survey) -> None:
        """Place two markers after all others; the first of them is then the next that goes."""
        self._numbers.trials += 1
        trials = self._desk.beyond(found.standing, TRIAL, count=2)
        self._ledger.try_out(trials)
        self._outbox.append(
            Say("two markers are placed after the song and removed again, to see whether numbers hold")
        )
        self._post_placings(found, trials, {})

    def _removals(self, found: Survey, *, certain: bool) -> dict[int, tuple[Step, ...]]:
        """Return the markers that can go, with what removes them; those that cannot are noted."""
        users = [told for number, told in enumerate(found.standing) if number not in found.owner]
        possible: dict[int, tuple[Step, ...]] = {}
        self._listening.is_calm = self._looks_for_doubles = False
        for number in self._ledger.surplus(found, certain=certain):
            marker = found.standing[number]
            steps = self._desk.removing(marker)
            if isinstance(steps, str):
                self._ledger.cannot_remove(marker, steps)
            elif any(self._desk.would_hit(steps, told) for told in users):
                self._ledger.cannot_remove(
                    marker, "it cannot be told from a marker of yours by what the host map removes it with"
                )
            elif self._desk.removes_by_id and self._numbers.endangered(
                marker, users, self._listening, self._desk.removing
            ):
                self._leave(marker)
            elif self._ledger.removals_of(marker) >= self.options.tries:
                self._ledger.cannot_remove(
                    marker, f"its old marker still stands after {self.options.tries} attempts to remove it"
                )
            else:
                possible[number] = steps
        return possible

    def _leave(self, marker: MarkerHeard) -> None:
        """Let a marker of ours stand that it is not safe to remove; find out first whether that is so."""
        if not self._listening.certain:
            return
        if self._listening.knows_doubles:
            self._ledger.cannot_remove(marker, UNSAFE)
        else:
            self._listening.is_calm = self._looks_for_doubles = True

    def _blocked(self, removals: dict[int, tuple[Step, ...]]) -> set[int]:
        """Return the wanted ones that a removal still to come would take away again."""
        return {
            wanted.index
            for steps in removals.values()
            for wanted in self._wanted
            if self._desk.would_hit_wanted(steps, wanted)
        }

    def _remove(self, found: Survey, removals: dict[int, tuple[Step, ...]], *, certain: bool) -> None:
        """Remove one marker and look what that does to ids; all at once where they hold."""
        if self._numbers.is_learning and len(removals) > _MANY and not certain:
            self._ask()
            return
        order = sorted(removals, key=lambda number: _id_order(found.standing[number].id))
        chosen = order if self._numbers.hold else self._sure_of(found, order)[:1]
        if not chosen:
            self._ask()
            return
        self._compare()
        self._numbers.watch(self._listening, found.standing[chosen[0]].id)
        for number in chosen:
            if self._ledger.removing(found, number):
                self._outbox.append(Write(self._ledger.entries))
            self._outbox.extend(deed(removals[number]))
        self._phase = _Phase.CHANGING

    def _sure_of(self, found: Survey, numbers: list[int]) -> list[int]:
        """Return those whose id, where it takes one to remove them, the latest listing told."""
        if not self._desk.removes_by_id:
            return numbers
        return [number for number in numbers if self._listening.lately_told(found.standing[number])]

    def _finish(self, found: Survey, *, certain: bool, why: str | None = None) -> None:
        self.result = self._ledger.result(
            found,
            why=why or "the host never told of it",
            silent=not self._listening.ever_answered,
            unfinished=None if certain else self._last,
        )
        if self._ledger.settle(found, certain=certain):
            self._outbox.append(Write(self._ledger.entries))


def _id_order(handle: Handle) -> tuple[int, str]:
    return (handle, "") if isinstance(handle, int) else (0, str(handle))
