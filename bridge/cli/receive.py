"""``pulsebridge receive``: what comes in, and the transport it adds up to."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from bridge.cli.delays import Delay, read_delays
from bridge.cli.measuring import measure, wanted
from bridge.cli.output import note, print_json, write_lines
from bridge.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bridge.follow import Follower
    from bridge.hostmap import HostMap
    from bridge.live.inputs import MidiChoice

__all__ = ["command"]


def command(
    *,
    host: Annotated[
        Path | None, typer.Option(help="The host map: how the host speaks OSC.", metavar="MAP")
    ] = None,
    plan: Annotated[
        Path | None,
        typer.Option(help="The plan that the host plays: what to expect of its tempi.", metavar="PLAN"),
    ] = None,
    midi: Annotated[str | None, typer.Option(help="The MIDI port to listen to.", metavar="PORT")] = None,
    virtual: Annotated[
        bool, typer.Option("--virtual", help="Make the MIDI port, for the host to send to.")
    ] = False,
    jack: Annotated[
        bool, typer.Option("--jack", help="Read the MIDI port with JACK's own times: no jitter.")
    ] = False,
    midi_ports: Annotated[bool, typer.Option("--midi-ports", help="List the MIDI ports, and end.")] = False,
    record: Annotated[
        Path | None, typer.Option(help="Write what comes in, for --replay.", metavar="FILE")
    ] = None,
    replay: Annotated[
        Path | None,
        typer.Option(help="A recording to follow, as fast as it goes (.gz too).", metavar="FILE"),
    ] = None,
    delay: Delay = None,
    measure_delay: Annotated[
        str | None,
        typer.Option(
            help="Measure that delay: you tap along, or what we send comes back (see above).",
            metavar="tap|loop",
        ),
    ] = None,
    tap_on: Annotated[
        str | None, typer.Option(help="Tap with notes on this MIDI port, not the Enter key.", metavar="PORT")
    ] = None,
    loop_to: Annotated[
        str | None, typer.Option(help="The MIDI port to send to; it comes back on --midi.", metavar="PORT")
    ] = None,
    loop_share: Annotated[
        str | None,
        typer.Option(
            help="How much of the round trip is the delay: half, unless told.", metavar="half|whole"
        ),
    ] = None,
    times: Annotated[
        int | None, typer.Option(min=8, max=1000, help="How many taps (24) or round trips (50).")
    ] = None,
    lasts: Annotated[
        str | None, typer.Option("--for", help="End after this time, as in 10s or 2:30.", metavar="TIME")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="JSON lines are all that is written.")] = False,
) -> int:
    """Follow what comes in, and show where the host is by it.

    On a terminal: who sends what, how often, how evenly, and the transport it adds up to.
    Else, and with --json or --replay, one JSON line for each input with at, playing,
    quarters, bpm, source and locked: the best estimate of the place at that moment, from
    what had come up to then.  What happened (started, stopped, moved, lost ...) is told
    on stderr.  Ctrl-C ends it.

    Messages take their time, and so does sound.  With --measure-delay tap you tap the
    quarter notes that you hear while the host plays.  With loop a message goes out and
    comes back: through a MIDI cable or the host (--loop-to, --midi), or over OSC as a
    question to the host (--host), the time that it takes to answer included.  With --json
    the result is one object: measured, delays (source, delay_ms, error_ms, spread_ms,
    beat_ms, count, why), taps, unused, ahead_ms, sent, round_trip_ms, share.  What spreads
    too widely is refused, and why.  Tell later runs the result with --delay.

    \b
    Examples:
      pulsebridge receive --host examples/hosts/practice-rig.yaml --record evening.jsonl
      pulsebridge receive --midi rig --measure-delay tap
      pulsebridge receive --midi rig --delay clock=12.5
    """
    if midi_ports:
        _list_ports(json)
        return 0
    measuring = wanted(measure_delay, tap_on=tap_on, loop_to=loop_to, share=loop_share, times=times)
    if measuring is not None:
        unfit: dict[str, object] = {"--delay": delay, "--record": record, "--replay": replay}
        _refuse_together("--measure-delay", unfit, hint="Delays are measured alone, by what comes in now.")
        if measuring.kind == "loop":
            unfit = {"--plan": plan, "--for": lasts, "--host": host if loop_to else None}
            _refuse_together("--measure-delay loop", unfit, hint="Leave out what a loop has no use for.")
    if replay is not None:
        unfit = {"--midi": midi, "--record": record, "--for": lasts}
        _refuse_together("--replay", unfit, hint="A recording is followed alone: leave out one of them.")
    choice, seconds = _choice(midi, virtual, jack), _seconds(lasts)
    host_map = _host_map(host)
    follower = _follower(host_map, plan, delay)
    if replay is not None:
        _replay(replay, host_map, follower, quiet=json)
        return 0
    _need_input(host_map, choice)
    if measuring is not None:
        return measure(measuring, follower, host=host_map, midi=choice, seconds=seconds, as_json=json)
    _listen(host_map, choice, follower, record=record, seconds=seconds, json=json)
    return 0


def _refuse_together(option: str, options: dict[str, object], *, hint: str) -> None:
    if given := [name for name, value in options.items() if value]:
        raise UsageError(f"{option} and {' and '.join(given)} do not go together", hint=hint)


def _host_map(host: Path | None) -> HostMap | None:
    if host is None:
        return None
    from bridge.cli.host_maps import load_host_map

    return load_host_map(host)


def _follower(host: HostMap | None, plan: Path | None, delay: Sequence[str] | None) -> Follower:
    from bridge.live.following import follower_for

    delays = read_delays(delay)
    if plan is None:
        return follower_for(host, None, delays)
    from bridge.cli.solving import solved_song

    return follower_for(host, solved_song(plan)[0], delays)


def _choice(midi: str | None, virtual: bool, jack: bool) -> MidiChoice | None:
    if midi is None and (virtual or jack):
        raise UsageError("--virtual and --jack say how to read a MIDI port", hint="Name it: --midi PORT.")
    if virtual and jack:
        raise UsageError("--virtual and --jack do not go together", hint="Leave one out.")
    if midi is None:
        return None
    from bridge.live.inputs import MidiChoice

    return MidiChoice(name=midi, virtual=virtual, jack=jack)


def _seconds(lasts: str | None) -> float | None:
    from bridge.exact import parse_seconds

    return float(parse_seconds(lasts, what="--for").value) if lasts else None


def _need_input(host: HostMap | None, midi: MidiChoice | None) -> None:
    if host is None and midi is None:
        raise UsageError(
            "nothing to receive is named",
            hint="Name a host map (--host MAP), a MIDI port (--midi PORT) or a recording (--replay FILE).",
        )
    if host is not None:
        host.need("receive_on", command="receive")


def _replay(replay: Path, host: HostMap | None, follower: Follower, *, quiet: bool) -> None:
    from bridge.cli.receiving import Receiver, event_line, line_of
    from bridge.store.recording import read_recording
    from bridge.store.recording_file import lines_of

    receiver = Receiver(host, follower)
    for recorded in read_recording(lines_of(replay), source=str(replay)):
        for event in receiver.take(recorded):
            if not quiet:
                note(event_line(event))
        sys.stdout.write(line_of(receiver.transport(recorded.at)))
    if not quiet:
        for line in receiver.summary():
            note(line)


def _listen(
    host: HostMap | None,
    midi: MidiChoice | None,
    follower: Follower,
    *,
    record: Path | None,
    seconds: float | None,
    json: bool,
) -> None:
    from bridge.cli.receive_live import run

    view = not json and sys.stdout.isatty()
    run(host=host, midi=midi, follower=follower, record=record, seconds=seconds, view=view, quiet=json)


def _list_ports(json: bool) -> None:
    from bridge.midi.driver import find_inputs

    names, to = ([port.name for port in find_inputs(listens=listens)] for listens in (True, False))
    if json:
        print_json({"midi_ports": names, "midi_ports_to_send_to": to})
        return
    write_lines(names or ["no MIDI ports are there"])
    if to:
        write_lines(["to send to (--loop-to):", *(f"  {name}" for name in to)])
