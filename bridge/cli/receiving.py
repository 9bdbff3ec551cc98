"""What comes in, fed to the follower: live or from a recording, it is the same.

This file knows neither options nor where the inputs come from.
"""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from bridge.errors import InternalError
from bridge.hostmap import Unusable, hear

if TYPE_CHECKING:
    from bridge.follow import Event, Follower, Transport
    from bridge.hostmap import HostMap
    from bridge.store.recording import Recorded

__all__ = ["Receiver", "event_line", "line_of"]


class Receiver:
    """Recorded inputs in, events and the transport out, with counts of what came."""

    __slots__ = ("follower", "host", "midi", "osc", "unreadable", "unusable")

    def __init__(self, host: HostMap | None, follower: Follower | None = None) -> None:
        from bridge.live.following import follower_for

        self.host = host
        self.follower = follower or follower_for(host)
        self.midi = self.osc = self.unreadable = self.unusable = 0

    def take(self, recorded: Recorded) -> list[Event]:
        """Take one input; return what has happened to the transport."""
        at = recorded.at
        if recorded.midi is not None:
            self.midi += 1
            return self.follower.midi(at, recorded.midi)
        if recorded.osc is None:
            self.unreadable += 1
            return self.follower.pass_time(at)
        self.osc += 1
        said = hear(self.host, recorded.osc) if self.host else ()
        self.unusable += sum(isinstance(meaning, Unusable) for meaning in said)
        if not said:
            return self.follower.pass_time(at)
        return [event for meaning in said for event in self.follower.heard(at, meaning)]

    def transport(self, at: float) -> Transport:
        """Return the best estimate of the transport at ``at``, from what came up to then."""
        return self.follower.transport(at)

    def summary(self) -> list[str]:
        """Return what came, in words, a line each."""
        counts = ((self.midi, "MIDI"), (self.osc, "OSC"), (self.unreadable, "unreadable"))
        counted = ", ".join(f"{count:,} {kind}" for count, kind in counts if count)
        lines = [f"received: {counted or 'nothing'}"]
        if self.unusable:
            lines.append(f"{self.unusable:,} of the host's messages did not fit the host map")
        if self.osc and self.host is None:
            lines.append("OSC is understood with a host map only: --host MAP")
        return lines


def event_line(event: Event) -> str:
    """Say an event for people."""
    detail = f": {event.detail}" if event.detail else ""
    return f"{event.at:.3f} s  {event.source} {event.what}{detail}"


def line_of(state: Transport) -> str:
    """Return the JSON line of a transport, with its line feed.

    Written by hand: an hour has hundreds of thousands, and a float's repr is JSON.
    """
    playing, locked = "true" if state.playing else "false", "true" if state.locked else "false"
    source = "null" if state.source is None else f'"{state.source}"'
    return (
        f'{{"at": {state.at!r}, "playing": {playing}, "quarters": {_number(state.quarters)}, '
        f'"bpm": {_number(state.bpm)}, "source": {source}, "locked": {locked}}}\n'
    )


def _number(value: float | None) -> str:
    if value is None:
        return "null"
    if not isfinite(value):
        raise InternalError(f"a transport cannot be at {value}")
    return repr(value)
