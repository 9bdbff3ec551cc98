"""How the host's places stand to the show's, and what the host is asked to do about it.

The show's place is the host's plus a shift.  A hold makes the shift grow where the host
is sent back, and a host that cannot be sent back goes on while the shift falls behind.
When the host's reports jump, a jump that we asked for explains them, or somebody else
moved it.  This file knows nothing about messages or sockets.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from bridge.exact import Length, Place
from bridge.show.effect import AskHost
from bridge.show.passing import Pass

__all__ = ["Hosting"]

_NOTHING = Length(0)
_NEAR, _NEAR_SECONDS = 0.75, 0.25
"""Quarter notes, or seconds, between where the host is and where it should be, before it counts as moved."""
_TRIES = 8
_PATIENCE = 0.35
"""Seconds after which a host that has not jumped is asked again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """A jump that the host was asked for."""

    shift: Length
    """What the shift is once it has jumped."""
    until: float
    """When it is asked again."""
    tries: int
    loops: bool = False
    """It jumps by itself, at its loop's end."""


class Hosting:
    """What the host can do, and where it stands to the show; ``ability`` names deeds of its host map."""

    def __init__(self, ability: Collection[str]) -> None:
        self.shift = _NOTHING
        self._ability = frozenset(ability)
        self._asked: _Asked | None = None
        self.looping: Pass | None = None
        """The pass in which the host loops by itself."""

    @property
    def can_locate(self) -> bool:
        """Whether it can be sent to a place."""
        return "locate" in self._ability

    @property
    def can_loop(self) -> bool:
        """Whether it can be made to loop, and to stop looping."""
        return {"loop", "loop_off"} <= self._ability

    @property
    def can_stop_and_go(self) -> bool:
        """Whether it can be stopped, moved and started for a passage without bars."""
        return {"stop", "play", "locate"} <= self._ability

    def cannot_hold(self, passed: Pass) -> str | None:
        """Say why the host's timeline runs on in a hold of this section; None where it does not."""
        if not (self.can_locate or self.can_loop):
            return "the host can neither loop nor be moved"
        if passed.loops_by is None:
            return f"the parts of {passed.name} come round only in more bars than it has"
        return None

    def holds(self, passed: Pass) -> bool:
        """Whether the host goes back when the section is held."""
        return self.cannot_hold(passed) is None

    def explain(self, host: float, expected: float, *, bpm: float) -> bool:
        """Take that the host stands at ``host`` quarters, the show expected at ``expected``.

        What reaches us late counts in seconds, at ``bpm``.  Return False when neither
        the shift nor a jump that was asked for explains it.
        """
        near = max(_NEAR, _NEAR_SECONDS * bpm / 60)
        stays = abs(host + float(self.shift.quarters) - expected)
        if self._asked is not None:
            jumped = abs(host + float(self._asked.shift.quarters) - expected)
            if jumped < stays and jumped <= near:
                self.shift, self._asked = self._asked.shift, None
                return True
        return stays <= near

    def forget(self) -> None:
        """Take the host as it stands: somebody moved it."""
        self.shift, self._asked = _NOTHING, None

    def begin_hold(self, passed: Pass, at: float) -> list[AskHost]:
        """Make a host that can loop do so over the last turns of all."""
        back = passed.loops_by
        if not self.can_loop or back is None or self.looping is not None:
            return []
        self.looping = passed
        end = self._host_place(passed, passed.axis.length)
        return [AskHost(due=at, deed="loop", place=end - back, until=end)]

    def end_loop(self, at: float) -> list[AskHost]:
        """Make a host that loops stop doing so; where it stands it goes on."""
        passed, self.looping = self.looping, None
        return [] if passed is None else [AskHost(due=at, deed="loop_off", place=passed.start)]

    def wraps(self, passed: Pass, since: Length) -> Length | None:
        """Return where, at ``since`` or later, the host goes back, if it ever has to."""
        back = passed.loops_by
        if back is None or not self.holds(passed):
            return None
        end = passed.axis.length
        goes_on = passed.leaves is None or passed.leaves > end
        if not goes_on:
            return None
        at = end if since <= end else end + back * -((end - since) // back)
        return at if passed.leaves is None or at < passed.leaves else None

    def wrap(self, passed: Pass, into: Length, at: float) -> list[AskHost]:
        """Go back at ``into``, at the end of a loop: ask for it, or expect it from a host that loops."""
        back = passed.loops_by or _NOTHING
        shift = self.shift + back
        self._asked = _Asked(shift=shift, until=at + _PATIENCE, tries=1, loops=self.looping is not None)
        if self.looping is not None:
            return []
        return [AskHost(due=at, deed="locate", place=passed.start + into - shift)]

    def rejoin(self, passed: Pass, into: Length, at: float) -> list[AskHost]:
        """Send a host back that ran past the end of a held section while nobody was there to do it."""
        back, end = passed.loops_by, passed.axis.length
        if back is None or not self.can_locate or into - self.shift < end:
            return []
        shift = self.shift + back * ((into - self.shift - end) // back + 1)
        self._asked = _Asked(shift=shift, until=at + _PATIENCE, tries=1)
        return [AskHost(due=at, deed="locate", place=passed.start + into - shift)]

    def go(self, passed: Pass, target: Place, at: float) -> list[AskHost]:
        """Leave ``passed`` for ``target``; where the host comes there by itself nothing is asked."""
        asked = self.end_loop(at)
        assert passed.leaves is not None  # noqa: S101  the conductor leaves a pass only where it ends
        host = self._host_place(passed, passed.leaves)
        if host == target:
            self.shift, self._asked = _NOTHING, None
            return asked
        self.shift = target - host
        if self.can_locate:
            self._asked = _Asked(shift=_NOTHING, until=at + _PATIENCE, tries=1)
            asked.append(AskHost(due=at, deed="locate", place=target))
        return asked

    def ask_again(self, show: Place, at: float) -> tuple[list[AskHost], bool]:
        """Ask again for a jump that has not come, from ``show``, where the show is now.

        Return what is asked, and whether it was given up instead.
        """
        asked = self._asked
        if asked is None or at < asked.until:
            return [], False
        if asked.loops or asked.tries >= _TRIES or not self.can_locate:
            self._asked = None
            return [], True
        self._asked = _Asked(shift=asked.shift, until=at + _PATIENCE, tries=asked.tries + 1)
        return [AskHost(due=at, deed="locate", place=show - asked.shift)], False

    @property
    def wake_at(self) -> float | None:
        """When a jump that was asked for should have come."""
        return self._asked.until if self._asked else None

    def _host_place(self, passed: Pass, into: Length) -> Place:
        return passed.start + into - self.shift
