"""``pulsebridge hear``: the guide on the sound card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.cli.guide_options import (
    ClickFor,
    ClickOut,
    CountIn,
    From,
    Only,
    Peak,
    Speed,
    Times,
    To,
    Without,
    guide_options,
    with_recordings,
)
from bridge.cli.output import note, print_json, safe
from bridge.cli.progress import Progress
from bridge.cli.solving import solved_song
from bridge.errors import UsageError
from bridge.exact import show_seconds
from bridge.shape import DEFAULT_EFFORT
from bridge.song import Frame, bars_counted_in

__all__ = ["command"]


def command(
    plan: Annotated[Path | None, typer.Argument(help="The plan file.", metavar="PLAN")] = None,
    *,
    device: Annotated[
        str | None, typer.Option("--device", help="The sound card: its number or part of its name.")
    ] = None,
    devices: Annotated[bool, typer.Option("--devices", help="List the sound cards and stop.")] = False,
    count_in: CountIn = False,
    begin: From = None,
    stop: To = None,
    times: Times = 1,
    speed: Speed = "100%",
    only: Only = None,
    without: Without = None,
    click_out: ClickOut = None,
    click_for: ClickFor = None,
    peak: Peak = -12.0,
    effort: Annotated[int, typer.Option(min=1, help="Steps the planner may take.")] = DEFAULT_EFFORT,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Play the guide of PLAN: click, one sound a layer, a bell where all meet.

    Needs the extra: pip install 'pulsebridge[sound]'. Stop with Ctrl-C.

    \b
    Examples:
      pulsebridge hear examples/low-tide-relay.yaml
      pulsebridge hear examples/low-tide-relay.yaml --count-in --times 4 \\
        --from "8 bars before Landfall" --to Landfall --speed 80%
    """
    from bridge.out import sound_card

    if devices:
        found = sound_card.devices()
        print_json({"devices": found}) if json else typer.echo(safe("\n".join(found)))
        return 0
    if plan is None:
        raise UsageError("'hear' needs a plan", hint="Name a plan file, or give --devices.")
    sound_card.refuse_missing()
    options = guide_options(
        begin=begin,
        stop=stop,
        times=times,
        speed=speed,
        only=only,
        without=without,
        click_out=click_out,
        click_for=click_for,
        peak=peak,
    )
    from bridge.out.guide.performance import Performance

    song, _ = solved_song(plan, effort=effort)
    options = with_recordings(options, song, plan)
    performance = Performance(Frame.of(song, count_in=bars_counted_in(song) if count_in else 0), options)
    for left_out in performance.left_out():
        note(left_out)
    lasts = show_seconds(performance.seconds)
    note(f"playing {lasts}; start low, turn it up slowly, and mind your hearing; Ctrl-C stops")
    progress = Progress("playing")
    sound_card.play(performance, device=device, told=progress)
    progress.finish()
    if json:
        print_json(performance.facts())
    return 0
