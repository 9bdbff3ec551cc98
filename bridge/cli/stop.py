"""``pulsebridge stop``: end a running bridge."""

from __future__ import annotations

import time
from typing import Annotated

import typer

from bridge.cli.output import note, print_json
from bridge.cli.status import Process
from bridge.errors import PeerError

__all__ = ["command"]

_LONGEST = 10.0


def command(
    *,
    process: Process = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> None:
    """End the running bridge: notes off, the host's loop off, every port closed.

    \b
    Example:
      pulsebridge stop
    """
    from bridge.live.asking import ask, the_bridge
    from bridge.store.running import running_bridges

    running = the_bridge(process)
    ask(running, ask="stop")
    until = time.monotonic() + _LONGEST
    while any(one.pid == running.pid for one in running_bridges()):
        if time.monotonic() > until:
            raise PeerError(f"{running} has not ended after {_LONGEST:.0f} s")
        time.sleep(0.02)
    if json:
        print_json({"stopped": running.pid})
    else:
        note(f"{running} has ended")
