"""``pulsebridge demo``: the whole job with the practice host, in about half a minute."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from bridge.cli.output import note, print_json, safe
from bridge.errors import PeerError

if TYPE_CHECKING:
    from bridge.cli.laying import Job, Laid
    from bridge.hostmap import HostMap
    from bridge.song import PlacedSection, Song

__all__ = ["command"]

_PLAN = "examples/low-tide-relay.yaml"
_HOST = "examples/hosts/practice-rig.yaml"
_BARS_BEFORE = 4
_BARS_AFTER = 4
_BARS_OF_APPROACH = 40
"""Before the payoff, where --stay plays on: the landing is seen coming from there."""

Tell = Callable[[str], None]


def command(
    *,
    stay: Annotated[
        bool,
        typer.Option(
            "--stay", help="Then let the host play on, followed, with the stage page, until Ctrl-C."
        ),
    ] = False,
    stage: Annotated[
        str, typer.Option(help="Where --stay serves the stage page.", metavar="HOST:PORT")
    ] = "127.0.0.1:9080",
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Do the whole job once: solve a song, lay its markers, verify them, play up to the payoff.

    Everything stays on this machine, unless --stage opens the page to the network.  The song
    is invented; its plan is examples/low-tide-relay.yaml.

    \b
    Example:
      pulsebridge demo
    """
    from bridge.cli.solving import solved_song
    from bridge.practice import PracticeHost, SongTimeline
    from bridge.store import shipped

    tell: Tell = note if json else _print
    song, solved = solved_song(shipped(_PLAN))
    tell(f"1. Solved {safe(song.plan.title)}: {_size(song)}, proven: {'yes' if solved.proven else 'no'}.")
    payoff = _payoff(song)
    tell(f"   The payoff is {safe(payoff.name)}, at bar {payoff.first_bar}.")
    host = _host_map(fixed_ports=stay)
    if host.send_to is None or host.receive_on is None:
        raise PeerError(f"{_HOST} names no ports")
    with (
        PracticeHost(SongTimeline(song), listen_on=host.send_to, send_to=host.receive_on),
        tempfile.TemporaryDirectory() as folder,
    ):
        tell(f"2. A practice host runs at {host.send_to}, with the song's tempi and meters.")
        laid = _lay(song, host, Path(folder), tell)
        bars = _play(song, host, payoff, tell)
        record = _record(song, laid, bars)
        if json:
            print_json(record)
        tell(f"{record['verified']} of {record['markers']} markers verified")
        if stay:
            return _stay(song, host, payoff, stage=stage, as_json=json)
    return 0 if record["verified"] == record["markers"] else PeerError.exit_code


def _print(text: str) -> None:
    typer.echo(text)


def _size(song: Song) -> str:
    from bridge.exact import show_seconds

    return f"{len(song.sections)} sections, {song.total_bars} bars, {show_seconds(song.total_seconds)}"


def _payoff(song: Song) -> PlacedSection:
    """Return the section that pays off the most: the last one with a ratio, else the last."""
    demanded = [
        s for s in song.sections if s.section.pays_off is not None and s.section.pays_off.ratio is not None
    ]
    return demanded[-1] if demanded else song.sections[-1]


def _host_map(*, fixed_ports: bool) -> HostMap:
    """Return the practice rig's map, on ports that are free unless they are to be the usual ones."""
    from bridge.cli.host_maps import load_host_map
    from bridge.hostmap import Address
    from bridge.osc import Port
    from bridge.store import shipped

    host = load_host_map(shipped(_HOST))
    if fixed_ports:
        return host
    anywhere = Address("127.0.0.1", 0)
    with Port(anywhere) as one, Port(anywhere) as other:
        return replace(
            host,
            send_to=Address("127.0.0.1", one.place[1]),
            receive_on=Address("127.0.0.1", other.place[1]),
        )


def _lay(song: Song, host: HostMap, folder: Path, tell: Tell) -> Laid:
    from bridge.cli.laying import Job, lay_song

    job: Job = Job(song=song, host=host, record=folder / "demo.laid.json")
    tell(f"3. Laying {len(song.markers)} markers, each checked against the host's own report ...")
    laid = lay_song(job, tell=tell)
    for marker in song.markers:
        tell(f"   {_at(song, marker.place)}  {safe(marker.name)}")
    for failure in laid.result.failed:
        tell(f"   failed: {safe(failure.name)}: {failure.why}")
    return laid


def _at(song: Song, place: Any) -> str:
    from bridge.exact import show_seconds

    return f"bar {song.bars.bar_at(place).number:>4}  {show_seconds(song.seconds(place)):>8}"


def _play(song: Song, host: HostMap, payoff: PlacedSection, tell: Tell) -> list[dict[str, Any]]:
    from bridge.cli.demo_play import Excerpt, play

    first = max(1, payoff.first_bar - _BARS_BEFORE)
    last = min(song.total_bars, payoff.first_bar + _BARS_AFTER - 1)
    tell(f"4. Locating to bar {first} and playing to bar {last}, as the host reports it:")
    return play(song, host, Excerpt(first=first, last=last, landing=payoff.first_bar), tell)


def _record(song: Song, laid: Laid, bars: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "title": song.plan.title,
        "total_bars": song.total_bars,
        "total_seconds": float(song.total_seconds),
        "markers": len(song.markers),
        **laid.result.as_record(),
        "played": bars,
    }


def _stay(song: Song, host: HostMap, payoff: PlacedSection, *, stage: str, as_json: bool) -> int:
    """Let the host play on from well before the payoff, with the bridge and its page beside it."""
    from bridge.cli.demo_stay import stay

    first = max(1, payoff.first_bar - _BARS_OF_APPROACH)
    note(f"The practice host stays at {host.send_to}, and plays on from bar {first}.")
    return stay(song, host, first, stage=stage, as_json=as_json)
