"""``pulsebridge receive``: what comes in, and the transport it adds up to."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass, field
from json import dumps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from bridge.cli.output import note
from bridge.errors import UsageError

if TYPE_CHECKING:
    from bridge.follow import Event, Follower, Transport
    from bridge.hostmap import HostMap
    from bridge.store.recording import Recorded

__all__ = ["command"]


def command(
    *,
    replay: Annotated[
        Path | None, typer.Option(help="A recording to follow, as fast as it goes.", metavar="FILE")
    ] = None,
    host: Annotated[
        Path | None, typer.Option(help="The host map: how the host speaks OSC.", metavar="MAP")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="JSON lines are all that is written.")] = False,
) -> None:
    """Follow what comes in, and write where the host is: one JSON line for each input.

    Each line holds at, playing, quarters, bpm, source and locked: the best estimate of the
    place at that moment, from what had come up to then.  What happened (started, stopped,
    moved, lost ...) is told on stderr.

    \b
    Example:
      pulsebridge receive --replay evening.jsonl --host examples/hosts/practice-rig.yaml
    """
    if replay is None:
        raise UsageError("nothing to receive is named", hint="Name a recording: --replay FILE.")
    from bridge.cli.lay import load_host_map

    listener = _Listener(None if host is None else load_host_map(host), quiet=json)
    try:
        with replay.open("rb") as lines:
            listener.replay(lines, str(replay))
    except OSError as error:
        raise UsageError(
            f"the recording {str(replay)!r} cannot be read: {error.strerror or error}",
            hint="Give the path of an existing file.",
        ) from None
    if not json:
        listener.sum_up()


@dataclass(slots=True)
class _Listener:
    """Feeds the follower, writes a line for each input, counts what came."""

    host: HostMap | None
    quiet: bool
    follower: Follower = field(init=False)
    counts: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        from bridge.follow import Follower

        position = self.host.hears.get("position") if self.host else None
        self.follower = Follower(unit=position.unit if position else None)

    def replay(self, lines: Any, source: str) -> None:
        from bridge.store.recording import read_recording

        for recorded in read_recording(lines, source=source):
            for event in self._feed(recorded):
                self._tell(event)
            _write_line(self.follower.transport(recorded.at))

    def sum_up(self) -> None:
        counted = ", ".join(f"{count} {kind}" for kind, count in sorted(self.counts.items()))
        note(f"received: {counted or 'nothing'}")
        if self.counts["OSC"] and self.host is None:
            note("OSC is understood with a host map only: --host MAP")

    def _feed(self, recorded: Recorded) -> list[Event]:
        at = recorded.at
        if recorded.midi is not None:
            self.counts["MIDI"] += 1
            return self.follower.midi(at, recorded.midi)
        if recorded.osc is None:
            self.counts["unreadable"] += 1
            return self.follower.pass_time(at)
        self.counts["OSC"] += 1
        if self.host is None:
            return self.follower.pass_time(at)
        from bridge.hostmap import hear

        said = hear(self.host, recorded.osc)
        if not said:
            return self.follower.pass_time(at)
        return [event for meaning in said for event in self.follower.heard(at, meaning)]

    def _tell(self, event: Event) -> None:
        if not self.quiet:
            detail = f": {event.detail}" if event.detail else ""
            note(f"{event.at:.3f} s  {event.source} {event.what}{detail}")


def _write_line(state: Transport) -> None:
    """Write one line, unflushed: a recording of an hour has hundreds of thousands."""
    fields = {
        "at": state.at,
        "playing": state.playing,
        "quarters": state.quarters,
        "bpm": state.bpm,
        "source": state.source,
        "locked": state.locked,
    }
    sys.stdout.write(dumps(fields, allow_nan=False) + "\n")
