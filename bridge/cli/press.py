"""``pulsebridge press``: press a control of a running bridge from here."""

from __future__ import annotations

from typing import Annotated

import typer

from bridge.cli.output import print_json, write_lines
from bridge.cli.status import Process

__all__ = ["command"]


def command(
    *,
    do: Annotated[
        str,
        typer.Argument(help="hold, release, release_now, skip, again, locate or accept.", metavar="DO"),
    ],
    name: Annotated[
        str | None, typer.Argument(help="The layer to wait for, or the place to go to.", metavar="[NAME]")
    ] = None,
    process: Process = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> None:
    """Hold a section, release it, or do what else a pedal could.

    \b
    Example:
      pulsebridge press release "hand drum"
    """
    from bridge.live.asking import ask, the_bridge
    from bridge.show import control

    words = [do] if name is None else [do, name]
    control(*words)
    answer = ask(the_bridge(process), ask="control", words=words)
    if json:
        print_json(answer)
    else:
        write_lines([answer["text"]] if answer["text"] else [])
