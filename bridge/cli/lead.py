"""``pulsebridge lead``: the bridge as the clock and, without a host, the show."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from bridge.cli import bridge_options as opt
from bridge.errors import UsageError

if TYPE_CHECKING:
    from bridge.cli.bridge_live import Front
    from bridge.live.daemon import Daemon

__all__ = ["command"]

_LOUDEST, _SOFTEST = 0.0, -60.0


def command(
    *,
    plans: opt.Plans,
    host: Annotated[
        Path | None,
        typer.Option(help="Start, stop and move this host with the show, over OSC.", metavar="MAP"),
    ] = None,
    midi_to: Annotated[
        str | None, typer.Option("--midi-to", help="Send the MIDI clock to this port.", metavar="PORT")
    ] = None,
    jack: Annotated[
        bool, typer.Option("--jack", help="Send to that port through JACK, each tick at its own frame.")
    ] = False,
    timecode: Annotated[
        str | None,
        typer.Option(help="Send MIDI time code too: 24, 25, 29.97df or 30 frames.", metavar="RATE"),
    ] = None,
    no_clock: Annotated[
        bool, typer.Option("--no-clock", help="No MIDI clock: time code alone, or the place over OSC.")
    ] = False,
    clock_jumps: Annotated[
        bool,
        typer.Option("--clock-jumps", help="In a hold, send receivers of the clock back with each loop."),
    ] = False,
    sound: Annotated[
        bool, typer.Option("--sound", help="Click, layers and bell on the sound card's first channels.")
    ] = False,
    click: Annotated[
        list[str] | None,
        typer.Option(help="A player's own click on a channel of their own. Several times.", metavar="WHO=N"),
    ] = None,
    device: Annotated[
        str | None, typer.Option(help="The sound card: its number or part of its name.")
    ] = None,
    peak: Annotated[
        float, typer.Option(min=_SOFTEST, max=_LOUDEST, help="Never louder than this, in dBFS.")
    ] = -12.0,
    at: Annotated[
        str | None,
        typer.Option(
            "--at", help="Begin there: a section, bar 13, '8 bars before Landfall'.", metavar="PLACE"
        ),
    ] = None,
    count_in: Annotated[
        int | None, typer.Option(min=0, max=16, help="Bars counted in; else as the plan says, or one.")
    ] = None,
    wait: Annotated[bool, typer.Option("--wait", help="Begin when it is released, not at once.")] = False,
    virtual: opt.MakePorts = False,
    cues_to: opt.CuesTo = None,
    ahead: opt.Ahead = None,
    plain_cues: opt.PlainCues = False,
    cues_midi: opt.CuesMidi = None,
    listen: opt.Listen = "127.0.0.1:9010",
    foot: opt.Foot_ = None,
    learn_foot: opt.LearnFoot = None,
    foot_midi: opt.FootMidi = None,
    stage: opt.StagePage = None,
    effort: Annotated[int | None, typer.Option(min=1, help="Steps the planner may take.")] = None,
    log: opt.Log = None,
    background: opt.Background = False,
    json: Annotated[bool, typer.Option("--json", help="JSON lines: all that happens and is sent.")] = False,
) -> int:
    """Lead: be the clock, from the plan's tempo map, and cue the players; no host is needed.

    It counts in and begins, or with --wait when it is released. Several plans are a set: each
    next song waits for its release, and is counted in. What goes out: MIDI clock with Start,
    Stop, Continue and song position (--midi-to), MIDI time code (--timecode), the place
    over OSC with the cues (/pulsebridge/position: quarters, seconds, bpm, playing), and the
    click (--sound, --click 'hand drum=3'; start low, turn it up slowly, mind your hearing).

    In a hold the clock goes on evenly, while time code and the place go back a loop at a time;
    a passage without bars stops the clock until it is released and counted in.

    Caution: cues are not for pyrotechnics, rigging, moving stage machinery or anything on
    which safety depends.

    \b
    Example:
      pulsebridge lead tide.yaml --midi-to "Rig MIDI 1" --timecode 25 --cues-to 127.0.0.1:9020
    """
    from bridge.cli.bridge_live import run
    from bridge.cli.bridge_songs import solved_set
    from bridge.cli.host_maps import load_host_map
    from bridge.cli.lead_options import HEARING, READY, Start, heard_of, rate_of
    from bridge.live.settings import Settings
    from bridge.show import Conductor, Programme
    from bridge.show.leading import Wanted

    if midi_to is None and (jack or timecode is not None or clock_jumps):
        raise UsageError("--jack, --timecode and --clock-jumps are for a MIDI port", hint="Name --midi-to.")
    wanted = Wanted(clock=not no_clock, jumps=clock_jumps, timecode=rate_of(timecode))
    starts = Start(at=at, count_in=count_in, wait=wait)
    heard = heard_of(guide=sound, clicks=click, device=device, peak_dbfs=peak)
    settings = Settings(
        what="lead",
        host=None if host is None else load_host_map(host),
        cues_to=opt.destinations(cues_to, ahead, plain=plain_cues),
        cues_midi=opt.choice(cues_midi, virtual=virtual),
        listen=opt.listen_on(listen),
        feet=opt.feet_of(foot, learn_foot),
        foot_midi=opt.choice(foot_midi, virtual=virtual),
        effort=effort,
        log=log,
    )
    if background:
        from bridge.cli.follow import go_to_background

        return go_to_background(json)
    programme, settings = solved_set(settings, plans, join=lambda songs: Programme(tuple(songs)))
    if heard is not None:
        for one in heard.sounding.clicks:
            one.refuse_unknown(programme.songs)
    starts.spot(programme)

    def make(front: Front) -> Daemon:
        from bridge.live.daemon import Daemon
        from bridge.live.lead_ports import add_ports

        conductor = partial(Conductor, led=True, starts_after=READY)
        daemon = Daemon(programme, settings, report=front.report, warn=front.warn, make=conductor)
        port = opt.choice(midi_to, virtual=virtual, jack=jack)
        add_ports(daemon, wanted, midi=port, heard=heard)
        daemon.at_start.append(lambda: starts.begin(daemon))
        if heard is not None:
            daemon.at_start.append(lambda: front.say(HEARING))
        return daemon

    return run(make, as_json=json, stage=stage)
