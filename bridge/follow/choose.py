"""Several sources at once: who leads, who disagrees, and how a loss passes without a jump.

The leader keeps the lead while nobody is more trustworthy.  When the lead passes on while
playing, the place goes on from where it was last told to be, and what the new leader says
otherwise is made up for little by little; a difference too great for that is a move.
This file does not know how a source comes to its state.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from bridge.follow.transport import Event, Happened, Source, Transport

__all__ = ["Lead"]

_PATIENCE = 0.5
"""Seconds: a disagreement shorter than this is a message still on its way."""
_APART_MS = 30.0
_APART_ERRORS = 4.0
_MUCH_BETTER = 4.0
_GOOD_MS = 5.0
"""A leader whose error is below this keeps the lead, however good the others are."""
_BRIDGED = 0.25
"""Seconds: a difference up to this is made up for, a greater one is a move ..."""
_MAKES_UP = 0.05
"""... by so many seconds a second."""


class Lead:
    """Sources' states in, one transport out; it remembers who leads and what was told."""

    __slots__ = ("_apart", "_bias", "_since", "last", "leader")

    def __init__(self) -> None:
        self.leader: Source | None = None
        self.last: Transport | None = None
        """What was told last."""
        self._bias: tuple[float, float] = (0.0, 0.0)
        """What is added to the leader's place: so many seconds of playing, at that instant."""
        self._since: dict[Source, float] = {}
        """Since when each of the others has disagreed."""
        self._apart: set[Source] = set()
        """Those whose disagreement has been reported."""

    def decide(self, at: float, states: Sequence[Transport]) -> list[Event]:
        """Choose who leads from ``at`` on, by the states then; return what the sources disagree on."""
        if len(states) == 1 and states[0].source is self.leader:
            self.last = self.told(at, states[0])
            return []
        by_source = {state.source: state for state in states if state.source is not None}
        current = by_source.get(self.leader) if self.leader else None
        best = max(by_source.values(), key=_trust, default=None)
        events = self._disagreements(at, current, by_source.values()) if current else []
        if best is not None and best.source is not self.leader and self._takes_over(at, current, best):
            events += self._pass_on(at, best)
        leading = by_source.get(self.leader) if self.leader else None
        self.last = self.told(at, leading) if leading else None
        return events

    def told(self, at: float, leading: Transport) -> Transport:
        """Return the leader's state as it is told: with what it still has to make up for."""
        seconds, since = self._bias
        left = abs(seconds) - _MAKES_UP * (at - since)
        if not leading.playing or leading.quarters is None or left <= 0:
            return leading
        signed = left if seconds > 0 else -left
        return replace(leading, quarters=leading.quarters + signed * (leading.bpm or 120.0) / 60)

    def _takes_over(self, at: float, current: Transport | None, best: Transport) -> bool:
        if current is None:
            return True
        if _trust(current)[0] == 0:
            return _trust(best)[0] > 0
        if current.playing != best.playing:
            disagreed = self._since.get(best.source) if best.source else None
            return (
                _trust(best)[0] > _trust(current)[0] and disagreed is not None and at - disagreed > _PATIENCE
            )
        if _trust(best)[0] > _trust(current)[0]:
            return True
        return _is_much_better(best, current)

    def _pass_on(self, at: float, best: Transport) -> list[Event]:
        if best.source in self._apart and self.leader is not None:
            self._apart = {self.leader}
        before, self.leader = self.last, best.source
        self._bias = (0.0, at)
        if before is None or not (before.playing and best.playing) or best.quarters is None:
            return []
        a_second = (before.bpm or best.bpm or 120.0) / 60
        expected = (before.quarters or 0.0) + (at - before.at) * a_second
        seconds = (expected - best.quarters) / a_second
        if abs(seconds) <= _BRIDGED:
            self._bias = (seconds, at)
            return []
        detail = f"{best.source} takes the lead, {-seconds:+.3f} s away"
        return [Event(what=Happened.MOVED, at=at, source=self.leader or Source.OSC, detail=detail)]

    def _disagreements(self, at: float, current: Transport, states: Iterable[Transport]) -> list[Event]:
        events = []
        for other in states:
            source = other.source
            if source is None or source is current.source:
                continue
            detail = _difference(current, other)
            if detail is None:
                self._since.pop(source, None)
                self._apart.discard(source)
                continue
            since = self._since.setdefault(source, at)
            if at - since >= _PATIENCE and source not in self._apart:
                self._apart.add(source)
                events.append(Event(what=Happened.DISAGREES, at=at, source=source, detail=detail))
        return events


def _trust(state: Transport) -> tuple[int, float]:
    """Rank a source: playing for certain, standing at a known place, playing somewhere, nothing."""
    error = -(state.error_ms if state.error_ms is not None else 1e9)
    if state.playing:
        return (3 if state.locked else 1), error
    return (2 if state.quarters is not None else 0), 0.0


def _is_much_better(best: Transport, current: Transport) -> bool:
    if not (best.playing and best.locked) or best.error_ms is None or current.error_ms is None:
        return False
    return current.error_ms > max(_GOOD_MS, _MUCH_BETTER * best.error_ms)


def _difference(one: Transport, other: Transport) -> str | None:
    """Say how two states differ; None where they agree, or where one of them knows nothing."""
    if _trust(one)[0] < 2 or _trust(other)[0] < 2:
        return None
    if one.playing != other.playing:
        player, stander = (one, other) if one.playing else (other, one)
        return f"{player.source} plays, {stander.source} stands still"
    if one.quarters is None or other.quarters is None or not one.playing:
        return None
    bpm = one.bpm or other.bpm or 120.0
    apart_ms = (other.quarters - one.quarters) * 60_000 / bpm
    allowed = max(_APART_MS, _APART_ERRORS * ((one.error_ms or 0.0) + (other.error_ms or 0.0)))
    return f"{apart_ms:+.1f} ms from {one.source}" if abs(apart_ms) > allowed else None
