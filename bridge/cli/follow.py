"""``pulsebridge follow``: the bridge, running beside a host that plays."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from bridge.cli import bridge_options as opt
from bridge.cli.delays import Delay, read_delays
from bridge.errors import UsageError

if TYPE_CHECKING:
    from bridge.cli.bridge_live import Front
    from bridge.live.daemon import Daemon

__all__ = ["command", "go_to_background"]


def command(
    *,
    plans: opt.Plans,
    host: Annotated[Path, typer.Option(help="The host map: how the host speaks OSC.", metavar="MAP")],
    midi: Annotated[
        str | None, typer.Option(help="Follow the MIDI clock or time code of this port too.", metavar="PORT")
    ] = None,
    jack: Annotated[
        bool, typer.Option("--jack", help="Read that port with JACK's own times: no jitter.")
    ] = False,
    virtual: opt.MakePorts = False,
    delay: Delay = None,
    cues_to: opt.CuesTo = None,
    ahead: opt.Ahead = None,
    plain_cues: opt.PlainCues = False,
    cues_midi: opt.CuesMidi = None,
    listen: opt.Listen = "127.0.0.1:9010",
    foot: opt.Foot_ = None,
    learn_foot: opt.LearnFoot = None,
    foot_midi: opt.FootMidi = None,
    lay: Annotated[
        bool, typer.Option("--lay", help="Lay the markers now, and again whenever the plan is saved.")
    ] = False,
    settle: Annotated[
        bool,
        typer.Option(
            "--settle",
            help="With --lay: a marker dragged in the host goes to the nearest place where all come home.",
        ),
    ] = False,
    stage: opt.StagePage = None,
    effort: Annotated[int | None, typer.Option(min=1, help="Steps the planner may take.")] = None,
    log: opt.Log = None,
    background: opt.Background = False,
    json: Annotated[bool, typer.Option("--json", help="JSON lines: all that happens and is sent.")] = False,
) -> int:
    """Follow a host that plays, and cue the players: what comes, in how many bars and turns.

    Several plans are a set in one timeline: which song is played follows from the host's
    place and each plan's origin. Hold a section and release it by a pedal, a key, the stage
    page, 'pulsebridge press', or OSC to --listen: /pulsebridge/hold, /pulsebridge/release.

    A saved plan is planned again and taken over. 'pulsebridge status' and 'pulsebridge stop'
    talk to a running bridge.

    Caution: cues are not for pyrotechnics, rigging, moving stage machinery or anything on
    which safety depends.

    \b
    Example:
      pulsebridge follow tide.yaml --host examples/hosts/practice-rig.yaml --cues-to 127.0.0.1:9020
    """
    from bridge.cli.bridge_live import run
    from bridge.cli.bridge_songs import solved_set
    from bridge.cli.host_maps import load_host_map
    from bridge.live.settings import Settings
    from bridge.show import Programme

    if settle and not lay:
        raise UsageError("--settle goes with --lay", hint="Write --lay --settle.")
    host_map = load_host_map(host)
    if midi is None:
        host_map.need("receive_on", command="follow")
    settings = Settings(
        what="follow",
        host=host_map,
        midi=opt.choice(midi, virtual=virtual, jack=jack),
        delays=read_delays(delay),
        cues_to=opt.destinations(cues_to, ahead, plain=plain_cues),
        cues_midi=opt.choice(cues_midi, virtual=virtual),
        listen=opt.listen_on(listen),
        feet=opt.feet_of(foot, learn_foot),
        foot_midi=opt.choice(foot_midi, virtual=virtual),
        effort=effort,
        log=log,
    )
    if background:
        return go_to_background(json)
    programme, settings = solved_set(settings, plans, join=Programme.in_timeline)

    def make(front: Front) -> Daemon:
        from bridge.live.daemon import Daemon
        from bridge.live.marker_keeper import MarkerKeeper

        daemon = Daemon(programme, settings, report=front.report, warn=front.warn)
        MarkerKeeper(daemon, plans, host_map, host, lay=lay, settle=settle)
        return daemon

    return run(make, as_json=json, stage=stage)


def go_to_background(as_json: bool) -> int:
    """Start the same command again in the background, and say where it runs."""
    from bridge.cli.background import start_in_background
    from bridge.cli.output import note, print_json

    note(opt.CAUTION)
    running = start_in_background(sys.argv[1:])
    if as_json:
        print_json({"process": running.pid, "ports": list(running.ports), "log": running.log})
    else:
        note(f"{running} runs in the background; its log is {running.log}")
    return 0
