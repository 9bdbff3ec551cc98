"""The bridge as the clock: what receivers are sent while a show is led, each thing at its exact time.

The seam.  Whoever decides (the conductor, or a test) tells :class:`Leading` of each pass
through a section as a :class:`~bridge.show.leading_leg.Leg`:

* ``play(leg)`` as soon as it is known, again whenever its end or what follows changes.
  A leg that begins where the one before ends goes on without a gap; any other begins at
  its own time, and ends what played until then.  Where a leg says what ``follows``, that
  is begun by itself when the time has come, so that the clock never waits for a decision
  that has been made; being told of it afterwards changes nothing.  :meth:`Leg.of` makes
  it of the conductor's ``passed`` and ``line``; without a line, call ``stop``.
* ``stop(now)`` ends it.
* At ``wake_at`` steady seconds call ``wake(now)``, and perform the effects in order: each
  has its exact ``due``.  ``now`` may lie some milliseconds ahead of the conductor's: then a
  leg may be followed by the next before it is said to be over, and where its end is moved
  after all, it is returned to.

Exact seconds come from the tempo map; this file knows nothing about ports or real clocks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from heapq import merge
from itertools import chain
from operator import attrgetter

from bridge.exact import Length
from bridge.follow import Rate
from bridge.show.effect import Effect
from bridge.show.leading_clock import clock_moments, count_at_end, stop_moment
from bridge.show.leading_leg import SAME_INSTANT, Leg
from bridge.show.leading_moment import Moment, Rank, Strike
from bridge.show.leading_position import position_moments, position_stopped
from bridge.show.leading_sound import Sounding, sound_moments
from bridge.show.leading_timecode import code_at_end, code_moments

__all__ = ["Leading", "Leg", "Wanted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is sent."""

    clock: bool = True
    jumps: bool = False
    """Receivers of the clock are moved with holds, skipped sections and the like too."""
    timecode: Rate | None = None
    position: bool = True
    sound: Sounding | None = None


@dataclass(slots=True, kw_only=True)
class _Running:
    """The leg that plays, what receivers counted, and what is still to be sent in it."""

    leg: Leg
    base: Length | None
    """What receivers of the clock counted at its section's start; None: they were sent there."""
    moments: Iterator[Moment]
    following: Moment | None = field(init=False)

    def __post_init__(self) -> None:
        self.following = next(self.moments, None)

    def take(self) -> Moment:
        """Return the next moment; there is one."""
        moment, self.following = self.following, next(self.moments, None)
        assert moment is not None  # noqa: S101  the caller has looked
        return moment

    def skip(self, until: float) -> None:
        """Leave out the ticks and quarter frames up to ``until``: receivers had some already."""
        kept = []
        while self.following is not None and self.following.due <= until:
            moment = self.take()
            if moment.rank not in (Rank.TICK, Rank.CODE):
                kept.append(moment)
        self.moments = chain([*kept, *([self.following] if self.following else [])], self.moments)
        self.following = next(self.moments, None)


class Leading:
    """Legs in, effects out; see the head of this file for who calls what when."""

    __slots__ = ("_after", "_before", "_given", "_limit", "_running", "_wanted")

    def __init__(self, wanted: Wanted | None = None) -> None:
        self._wanted = wanted or Wanted()
        self._running: _Running | None = None
        self._after: Leg | None = None
        self._before: list[_Running] = []
        """What has ended, where nobody has said yet that it has."""
        self._given = float("-inf")
        """Up to then everything has been given."""
        self._limit: Fraction | None = None
        """When what plays ends, or is ended by what comes."""

    @property
    def wake_at(self) -> float | None:
        """The steady seconds at which something is due; None while nothing is."""
        moment = self._running.following if self._running else None
        times = [moment.due] if moment else []
        if self._limit is not None:
            times.append(float(self._limit))
        return min(times, default=None)

    @property
    def leg(self) -> Leg | None:
        """What plays, as it was last told."""
        return self._running.leg if self._running else None

    def play(self, leg: Leg) -> None:
        """Take a leg that is new, or one that plays with another end."""
        running = self._running
        before = next((one for one in self._before if one.leg.is_same(leg)), None)
        if running is not None and running.leg.is_same(leg):
            running.leg = running.leg.ending_as(leg)
            self._after, self._before = None, []
        elif before is None:
            self._after = leg
        elif not before.leg.ends_as(leg):
            self._return_to(before, leg)
        self._set_limit()

    def stop(self, now: float) -> list[Effect | Strike]:
        """End it at ``now``; return what is due up to then, and what stops receivers."""
        effects, self._after = self.wake(now), None
        effects += [moment.effect for moment in self._end(Fraction(now))]
        self._before = []
        self._set_limit()
        return effects

    def wake(self, now: float) -> list[Effect | Strike]:
        """Return what is due up to ``now``, in order."""
        found: list[Moment] = []
        self._given = max(self._given, now)
        while True:
            found += self._until(now)
            limit = self._limit
            if limit is None or limit > now:
                return [moment.effect for moment in found]
            found += self._pass_on(limit)
            self._set_limit()

    def _set_limit(self) -> None:
        ends = self._running.leg.ends_at if self._running else None
        begins = self._after.starts_at if self._after else None
        self._limit = min((at for at in (ends, begins) if at is not None), default=None)

    def _until(self, now: float) -> Iterator[Moment]:
        """Walk through what is due up to ``now`` and before the limit."""
        running, limit = self._running, self._limit
        surely = float("inf") if limit is None else float(limit - SAME_INSTANT)
        while running is not None and (moment := running.following) is not None:
            if moment.due > now or (limit is not None and moment.due > surely and moment.at >= limit):
                return
            yield running.take()

    def _pass_on(self, at: Fraction) -> list[Moment]:
        """Begin what comes at ``at``, or end."""
        before, after = self._running, self._coming(at)
        if before is not None:
            self._before.append(before)
        if after is None:
            return self._end(at)
        self._after = None
        if before is not None and after.goes_on_from(before.leg.ends_at):
            self._go_on(before, after)
            return []
        self._begin(after, None, None)
        rolled = before is not None and not before.leg.is_free
        return [stop_moment(at)] if rolled and self._wanted.clock else []

    def _coming(self, at: Fraction) -> Leg | None:
        """Return the leg that begins at ``at``: the one that was told, or what follows the one that ends."""
        planned = self._running.leg.following(at) if self._running else None
        told = self._after
        if told is None:
            return planned
        if told.starts_at > at + SAME_INSTANT:
            return None
        return replace(told, located=planned.located) if planned and planned.is_same(told) else told

    def _go_on(self, before: _Running, after: Leg) -> None:
        """Begin ``after`` where the leg before it ends, without a gap: counts and codes go on."""
        ends, wanted = before.leg.ends_at, self._wanted
        assert ends is not None  # noqa: S101  something goes on from it
        count = count_at_end(before.leg, before.base, jumps=wanted.jumps)
        exact = replace(after, began=ends - after.axis.seconds(after.sounds_from))
        self._begin(exact, count - after.sounds_from, code_at_end(before.leg))

    def _return_to(self, before: _Running, leg: Leg) -> None:
        """Go on in the leg that was thought to be over: its end was moved at the very last moment."""
        running, self._before = self._running, []
        before.leg = before.leg.ending_as(leg)
        if running is not None and not running.leg.located and not running.leg.is_free:
            before.skip(self._given)
            self._running = before
            return
        into = leg.axis.at(Fraction(self._given) - leg.began)
        self._begin(replace(before.leg, sounds_from=into, enters=into, located=True), None, None)

    def _begin(self, leg: Leg, base: Length | None, code: Fraction | None) -> None:
        wanted = self._wanted
        streams = [
            clock_moments(leg, base, jumps=wanted.jumps) if wanted.clock else (),
            code_moments(leg, wanted.timecode, code) if wanted.timecode is not None else (),
            position_moments(leg) if wanted.position else (),
            sound_moments(leg, wanted.sound) if wanted.sound is not None else (),
        ]
        self._running = _Running(leg=leg, base=base, moments=merge(*streams, key=attrgetter("due", "rank")))

    def _end(self, at: Fraction) -> list[Moment]:
        """Stop receivers at ``at``."""
        running, self._running = self._running, None
        if running is None or running.leg.is_free:
            return []
        stop = [stop_moment(at)] if self._wanted.clock else []
        return [*stop, position_stopped(running.leg, at)] if self._wanted.position else stop
