"""``pulsebridge status``: how a running bridge stands."""

from __future__ import annotations

import time
from typing import Annotated, Any

import typer

from bridge.cli.output import print_json, write_lines

__all__ = ["Process", "command"]

Process = Annotated[
    int | None, typer.Option("--process", help="Which one, where several run.", metavar="NUMBER")
]


def command(
    *,
    process: Process = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> None:
    """Say how the running bridge stands: the show, what went out and what was refused.

    \b
    Example:
      pulsebridge status --json
    """
    from bridge.live.asking import ask, the_bridge

    found = ask(the_bridge(process), ask="status")
    if json:
        print_json(found)
    else:
        write_lines(_lines(found))


def _lines(found: dict[str, Any]) -> list[str]:
    cues, controls = found["cues"], found["controls"]
    since = time.strftime("%H:%M:%S", time.localtime(found["since"]))
    lines = [
        found["line"],
        f"{found['what']}, process {found['process']}, since {since}, on {', '.join(found['ports'])}",
        f"{cues['sent']:,} things sent, {cues['failed']:,} failed, the latest by {cues['worst_ms']:.2f} ms",
    ]
    lines += [
        f"  {one['address']}: {one['sent']:,} sent, {one['failed']:,} failed"
        + (f" ({one['error']})" if one["error"] else "")
        for one in cues["to"]
    ]
    lines += [f"  in {rung['in_bars']} bars: {', '.join(rung['home'])}" for rung in found["show"]["ladder"]]
    if controls["without_token"]:
        lines.append(f"{controls['without_token']:,} controls without the token, last {controls['stranger']}")
    lines += _stage_lines(found["stage"])
    odd = {
        "controls were not understood": controls["refused"],
        "controls came too fast and did nothing": controls["too_many"],
        "double presses did nothing": controls["double_presses"],
        "messages of the host did not fit its map": found["host"]["unusable"],
        "entries of the journal were refused by the disk": found["lost"]["journal"],
        "lines of the log were refused by the disk": found["lost"]["log"],
    }
    lines += [f"{count:,} {what}" for what, count in odd.items() if count]
    return [*lines, f"log: {found['log']}"] if found["log"] else lines


def _stage_lines(stage: dict[str, Any] | None) -> list[str]:
    if stage is None:
        return []
    refused = [f"{reason} {count:,}" for reason, count in stage["refused"].items() if count]
    return [
        f"stage page {stage['address']}: {stage['watching']:,} watching",
        *([f"  refused or dropped there, by reason: {', '.join(refused)}"] if refused else []),
    ]
