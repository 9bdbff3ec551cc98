"""``pulsebridge practice-host``: a stand-in host in the foreground."""

from __future__ import annotations

import re
import signal
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from bridge.cli.output import note, print_json
from bridge.errors import PlanError, UsageError

if TYPE_CHECKING:
    from bridge.practice import PracticeHost, Rig, Timeline, Weather

__all__ = ["command"]

_SHARE = re.compile(r"([0-9]{1,3}(?:\.[0-9]{1,3})?)\s*%", re.ASCII)


def command(
    *,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Listen on this UDP port.")] = 9001,
    to: Annotated[str, typer.Option(help="Send there, HOST:PORT.")] = "127.0.0.1:9000",
    plan: Annotated[
        Path | None, typer.Option(help="Take tempi and meters from this plan.", metavar="PLAN")
    ] = None,
    tempo: Annotated[str | None, typer.Option(help="Quarter notes a minute (default 120).")] = None,
    meter: Annotated[str | None, typer.Option(help="The meter (default 4/4).")] = None,
    marker: Annotated[
        list[str] | None, typer.Option(help="A marker of the user's own: SECONDS=NAME; repeatable.")
    ] = None,
    rate: Annotated[float, typer.Option(min=1, max=1000, help="Reports a second while it plays.")] = 20,
    lose: Annotated[str, typer.Option(help="Share of packets lost, each way.")] = "0%",
    double: Annotated[str, typer.Option(help="Share of packets doubled.")] = "0%",
    reorder: Annotated[str, typer.Option(help="Share of packets that come up to 30 ms late.")] = "0%",
    delay: Annotated[str, typer.Option(help="Delay of every packet.")] = "0ms",
    seed: Annotated[int, typer.Option(help="The same seed loses the same packets.")] = 1,
    write_map: Annotated[
        Path | None, typer.Option("--map", help="Write the host map for it to this new file.", metavar="FILE")
    ] = None,
    lasts: Annotated[str | None, typer.Option("--for", help="End by itself after this time.")] = None,
    json: Annotated[bool, typer.Option("--json", help="JSON lines on stdout: ready, changes, end.")] = False,
) -> None:
    """Run a stand-in host with a transport, a tempo map and markers, to practise with.

    The host map for it is examples/hosts/practice-rig.yaml, or what --map writes.  Ctrl-C ends it.

    \b
    Example:
      pulsebridge practice-host --plan examples/low-tide-relay.yaml --lose 25% --seed 7
    """
    from bridge.clock import SteadyClock
    from bridge.exact import parse_seconds
    from bridge.hostmap import Address
    from bridge.hostmap.load import read_address
    from bridge.practice import PracticeHost

    weather = _weather(lose, double, reorder, delay, seed)
    timeline = _timeline(plan, tempo, meter)
    end = parse_seconds(lasts, what="--for").value if lasts else None
    host = PracticeHost(
        timeline,
        listen_on=Address("127.0.0.1", port),
        send_to=read_address(to, least=1),
        notes=[_marker(text) for text in marker or []],
        rate=rate,
        weather=weather,
        on_change=_teller(json),
    )
    if write_map is not None:
        _write_map(write_map, here=f"127.0.0.1:{host.port.place[1]}", there=to)
    signal.signal(signal.SIGTERM, lambda *_: host.stop())
    _say_ready(host, to, json)
    try:
        host.run(until=None if end is None else SteadyClock().now() + float(end))
    finally:
        host.port.close()
        _say_end(host, json)


def _write_map(path: Path, *, here: str, there: str) -> None:
    """Write the practice rig's map with these ports; a file that is there already stays as it is."""
    from bridge.store import shipped

    text = shipped("examples/hosts/practice-rig.yaml").read_text(encoding="utf-8")
    text = re.sub(r"(?m)^send_to: \S+", f"send_to: {here}", text)
    text = re.sub(r"(?m)^receive_on: \S+", f"receive_on: {there}", text)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        note(f"note: {path} is there already and stays as it is")
    except OSError as error:
        raise UsageError(f"the host map {str(path)!r} cannot be written: {error.strerror or error}") from None


def _timeline(plan: Path | None, tempo: str | None, meter: str | None) -> Timeline:
    from bridge.exact import Meter, Tempo, parse_number
    from bridge.practice import SongTimeline, SteadyTimeline

    if plan is None:
        bpm = parse_number(tempo or "120", what="--tempo")
        return SteadyTimeline(Tempo.constant(bpm), Meter.parse(meter or "4/4"))
    if tempo is not None or meter is not None:
        raise UsageError("--plan brings its own tempo and meter", hint="Leave out --tempo and --meter.")
    from bridge.cli.solving import solved_song

    return SongTimeline(solved_song(plan)[0])


def _weather(lose: str, double: str, reorder: str, delay: str, seed: int) -> Weather:
    from bridge.exact import parse_seconds
    from bridge.practice import Weather

    return Weather(
        lose=_share(lose, "--lose"),
        double=_share(double, "--double"),
        reorder=_share(reorder, "--reorder"),
        delay=float(parse_seconds(delay, what="--delay", zero=True).value),
        seed=seed,
    )


def _share(text: str, option: str) -> float:
    match = _SHARE.fullmatch(text.strip())
    if match is None or float(match[1]) > 100:
        raise UsageError(f"{option} is a share of packets, not {text[:40]!r}", hint=f"Write {option} 25%.")
    return float(match[1]) / 100


def _marker(text: str) -> tuple[float, str]:
    from bridge.exact import parse_number

    seconds, equals, name = text.partition("=")
    hint = "Write --marker '12.5=My idea'."
    if not equals or not name.strip():
        raise UsageError(f"--marker is SECONDS=NAME, not {text[:60]!r}", hint=hint)
    try:
        return float(parse_number(seconds, what="a marker's time")), name.strip()
    except PlanError as error:
        raise UsageError(f"--marker cannot be {text[:60]!r}: {error.message}", hint=hint) from None


def _say_ready(host: PracticeHost, to: str, as_json: bool) -> None:
    here = f"{host.port.place[0]}:{host.port.place[1]}"
    if as_json:
        print_json({"ready": True, "listens_on": here, "sends_to": to})
        return
    typer.echo(f"practice host ready: listens on {here}, sends to {to}; Ctrl-C ends it")


def _teller(as_json: bool) -> Callable[[Rig], None]:
    """Make what says each change of markers or transport once."""
    last: list[tuple[int, bool]] = []

    def tell(rig: Rig) -> None:
        state = (len(rig.notes), rig.playing)
        if last[-1:] == [state]:
            return
        last[:] = [state]
        if as_json:
            print_json({"markers": state[0], "playing": state[1]})
        else:
            note(f"{state[0]} markers, {'playing' if state[1] else 'stopped'}")

    return tell


def _say_end(host: PracticeHost, as_json: bool) -> None:
    notes = sorted(host.notes, key=lambda one: (one.seconds, one.id))
    if as_json:
        listed = [{"id": one.id, "seconds": one.seconds, "name": one.name} for one in notes]
        print_json({"ended": True, "dropped": host.dropped, "markers": listed})
        return
    note(f"ended with {len(notes)} markers; the weather took {host.dropped} packets")
