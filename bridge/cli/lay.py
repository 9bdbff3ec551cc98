"""``pulsebridge lay``: place the plan's markers in the host."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from bridge.cli.host_maps import load_host_map
from bridge.cli.output import note, print_json, safe, show_error
from bridge.cli.solving import solved_song
from bridge.errors import PeerError, PulsebridgeError, UsageError
from bridge.exact import parse_number
from bridge.song import Song, unroll

if TYPE_CHECKING:
    from bridge.cli.laying import Job, Laid
    from bridge.hostmap import Message
    from bridge.lay import Options, Result

__all__ = ["command", "load_host_map"]

_FAILED = 3
_COUNTS = ("placed", "kept", "moved", "removed", "renamed", "verified", "unverified")


def command(
    *,
    plan: Annotated[Path, typer.Argument(help="The plan file.", metavar="PLAN")],
    host: Annotated[
        list[Path],
        typer.Option(help="The host map: how the host speaks OSC; several times for several.", metavar="MAP"),
    ],
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Send nothing; show the messages, from the record alone.")
    ] = False,
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Lay although the host's tempo or meter differs.")
    ] = False,
    put_back: Annotated[
        bool, typer.Option("--put-back", help="Move back the markers of ours that were moved in the host.")
    ] = False,
    adopt: Annotated[
        bool,
        typer.Option("--adopt", help="Take over markers that stand where the plan wants them (lost record)."),
    ] = False,
    pull: Annotated[
        bool, typer.Option("--pull", help="Change nothing; say how the host's markers differ from the plan.")
    ] = False,
    take: Annotated[
        bool, typer.Option("--take", help="With --pull: take the lengths they make into the plan file.")
    ] = False,
    open_network: Annotated[
        list[str] | None,
        typer.Option(
            help="Believe packets from this address or network too, beside the map's own; several times.",
            metavar="ADDRESS",
        ),
    ] = None,
    tempo_times: Annotated[
        str | None,
        typer.Option(
            help="Lay for a host that plays so many times as fast as the plan, as in 21/20 or 1.05.",
            metavar="RATIO",
        ),
    ] = None,
    record_in: Annotated[
        Path | None,
        typer.Option(help="Keep the record there, not beside the plan.", metavar="FOLDER"),
    ] = None,
    effort: Annotated[int | None, typer.Option(min=1, help="Steps the planner may take.")] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Place the plan's section markers in the host, and see from its own report that they stand.

    Sends only what differs from what stands there.  Markers that you made are never
    touched; those that lay made are known by the record PLAN.laid.json.

    With --pull nothing is sent but the question what stands there.

    \b
    Example:
      pulsebridge lay examples/low-tide-relay.yaml --host examples/hosts/practice-rig.yaml
    """
    from bridge.cli.lay_many import refuse_twins
    from bridge.cli.laying import Job, record_path
    from bridge.lay import Options
    from bridge.shape import DEFAULT_EFFORT

    _refuse_together(pull=pull, take=take, dry_run=dry_run, put_back=put_back, adopt=adopt)
    if pull and len(host) > 1:
        raise UsageError("--pull reads one host at a time", hint="Give one --host.")
    song, _ = solved_song(plan, effort=effort or DEFAULT_EFFORT)
    if tempo_times is not None:
        song = _at_the_hosts_tempo(song, tempo_times)
    record = record_path(plan, record_in)
    allowed = _opened(open_network or [])
    jobs = [Job(song=song, host=load_host_map(one), record=record, allowed=allowed) for one in host]
    refuse_twins(jobs)
    if pull:
        from bridge.cli.pulling import pull as pull_back

        return pull_back(jobs[0], plan, take=take, effort=effort or DEFAULT_EFFORT, as_json=json)
    if dry_run:
        return _dry(jobs, json)
    options = Options(anyway=anyway, put_back=put_back, adopt=adopt)
    return _several(jobs, options, json) if len(jobs) > 1 else _one(jobs[0], options, json)


def _at_the_hosts_tempo(song: Song, ratio: str) -> Song:
    times = parse_number(ratio, what="how many times as fast")
    if times <= 0:
        raise UsageError(f"a host plays more than 0 times as fast, not {ratio[:40]}")
    return unroll(song.plan.times_tempo(times), [placed.bars for placed in song.sections])


def _opened(addresses: list[str]) -> tuple[str, ...]:
    """Return the addresses that the network is opened to, checked before anything is done."""
    from bridge.osc import Allowed

    Allowed.of(addresses)
    return tuple(addresses)


def _one(job: Job, options: Options, as_json: bool) -> int:
    from bridge.cli.laying import lay_song

    laid = lay_song(job, options=options, tell=note)
    _note_odd_packets(job, laid)
    if as_json:
        print_json(_record(job, laid))
        _note_silence(job, laid)
    else:
        _show(job, laid)
    return _code(laid)


def _several(jobs: list[Job], options: Options, as_json: bool) -> int:
    """Lay several hosts at once: the counts of all together, and each one's own beside them."""
    from bridge.cli.lay_many import lay_all

    outcomes = lay_all(jobs, options=options, tell=note)
    records: list[dict[str, Any]] = []
    codes = [0]
    for one in outcomes:
        head = {"name": one.job.host.name, "send_to": str(one.job.host.send_to)}
        if not as_json:
            typer.echo(safe(f"{one.job.host.name} ({one.job.host.send_to}):"))
        if one.laid is not None:
            _note_odd_packets(one.job, one.laid)
            codes.append(_code(one.laid))
            records.append({**head, "error": None, **_record(one.job, one.laid)})
            if not as_json:
                _show(one.job, one.laid)
        elif one.error is not None:
            codes.append(one.error.exit_code)
            records.append({**head, **_unlaid(one.error)})
            if not as_json:
                show_error(one.error)
    if as_json:
        print_json(_together(records))
    return max(codes)


def _together(records: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the counts of all hosts, what failed in which, and the record of each."""
    counts = {word: sum(one[word] for one in records) for word in _COUNTS}
    failed = [{**failure, "host": one["name"]} for one in records for failure in one["failed"]]
    return {**counts, "failed": failed, "messages": None, "timeline": None, "packets": None, "hosts": records}


def _unlaid(error: PulsebridgeError) -> dict[str, Any]:
    where = error.where
    told = {
        "kind": error.kind,
        "message": error.message,
        "line": where.line if where else None,
        "column": where.column if where else None,
    }
    nothing = dict.fromkeys(_COUNTS, 0)
    return {**nothing, "failed": [], "messages": None, "timeline": None, "packets": None, "error": told}


def _code(laid: Laid) -> int:
    return _FAILED if laid.result.failed or any(one.failed for one in laid.timeline.values()) else 0


def _dry(jobs: list[Job], as_json: bool) -> int:
    from bridge.cli.laying import dry_lay

    found = [(job, *dry_lay(job)) for job in jobs]
    records = [
        {
            "name": job.host.name,
            "send_to": str(job.host.send_to),
            **result.as_record(),
            "messages": [message.as_record() for message in messages],
            "timeline": None,
            "packets": None,
        }
        for job, messages, result in found
    ]
    if as_json and len(jobs) == 1:
        (job, messages, result) = found[0]
        _show_dry(job, messages, result, as_json)
    elif as_json:
        listed = [message for one in records for message in one["messages"]]
        print_json({**_together(records), "messages": listed})
    else:
        for one in found:
            _show_dry(*one, as_json)
    return _FAILED if any(result.failed for _, _, result in found) else 0


def _refuse_together(*, pull: bool, take: bool, **others: bool) -> None:
    if take and not pull:
        raise UsageError("--take goes with --pull", hint="Write --pull --take.")
    given = [f"--{name.replace('_', '-')}" for name, on in others.items() if on]
    if pull and given:
        raise UsageError(
            f"--pull only reads, {given[0]} is about laying", hint="Give one of the two, then the other."
        )


def _record(job: Job, laid: Laid) -> dict[str, Any]:
    """Return the JSON object of one host."""
    error = {"error": _silence(job, laid)} if laid.result.silent else {}
    packets = {
        "received": laid.counts.received,
        "strangers": laid.counts.strangers,
        "unreadable": laid.counts.unreadable,
        "unusable": laid.unusable,
    }
    told = {"messages": None, "timeline": _timeline(laid), "packets": packets}
    return {**laid.result.as_record(), **told, **error}


def _show(job: Job, laid: Laid) -> None:
    for line in _lines(laid.result, len(job.song.markers)):
        typer.echo(line)
    for kind, part in laid.timeline.items():
        for line in _lines(part, None, what=f"{kind}s"):
            typer.echo(line)
    _note_silence(job, laid)


def _note_silence(job: Job, laid: Laid) -> None:
    if laid.result.silent:
        note(f"pulsebridge: {_silence(job, laid)['message']}")


def _silence(job: Job, laid: Laid) -> dict[str, Any]:
    heard = f"; {laid.counts.refused} times it said that nobody listens there" if laid.counts.refused else ""
    message = (
        f"nothing answers at {job.host.send_to}{heard}\n"
        "Does the host run, does it listen on that port, and does it send to "
        f"{job.host.receive_on}? See send_to and receive_on in the host map."
    )
    return {"kind": PeerError.kind, "message": message, "line": None, "column": None}


def _note_odd_packets(job: Job, laid: Laid) -> None:
    counts = laid.counts
    odd = {
        "could not be read as OSC": counts.unreadable,
        f"came from elsewhere than {job.host.send_to} and did not count": counts.strangers,
        "did not fit the host map": laid.unusable,
    }
    for what, number in odd.items():
        if number:
            note(f"note: {number} packets {what}")


def _timeline(laid: Laid) -> dict[str, Any] | None:
    """Return what came of meters, tempi and regions; null where the map has no words for them."""
    return {str(kind): part.as_record() for kind, part in laid.timeline.items()} or None


def _lines(result: Result, wanted: int | None, *, what: str = "markers") -> list[str]:
    total = result.verified + result.unverified if wanted is None else wanted
    head = f"{result.verified} of {total} {what} verified"
    if result.unverified and not result.verified and not result.failed:
        head = f"{result.unverified} of {total} {what} laid, unverified: this host reports none"
    counts = {word: getattr(result, word) for word in _COUNTS[:-2]}
    done = [f"{number} {word}" for word, number in counts.items() if number]
    lines = [f"{head} ({', '.join(done)})" if done else head]
    lines.extend(f"failed: {safe(failure.name)}: {safe(failure.why)}" for failure in result.failed)
    return lines


def _show_dry(job: Job, messages: tuple[Message, ...], result: Result, as_json: bool) -> None:
    if as_json:
        listed = [message.as_record() for message in messages]
        print_json({**result.as_record(), "messages": listed, "timeline": None, "packets": None})
        return
    typer.echo(f"{len(messages)} messages would go to {job.host.send_to}, by the record alone:")
    for message in messages:
        typer.echo(f"  {safe(str(message))}")
    for failure in result.failed:
        typer.echo(f"failed: {safe(failure.name)}: {safe(failure.why)}")
