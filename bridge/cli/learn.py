"""``pulsebridge learn``: find a host's OSC map by listening to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from json import dumps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from bridge.cli.output import note, print_json, write_lines
from bridge.errors import PlanError, UsageError

if TYPE_CHECKING:
    from bridge.learn import Explained, Finding, Happening, Spoken
    from bridge.osc import Counts

__all__ = ["command"]

_NOTHING_LEARNT = 3


def command(
    *,
    map: Annotated[
        str | None, typer.Option(help="Write the host map to this file (else: stdout).", metavar="FILE")
    ] = None,
    listen: Annotated[
        str, typer.Option(help="Where the host sends to: this machine's HOST:PORT.")
    ] = "127.0.0.1:9000",
    to: Annotated[
        str | None, typer.Option(help="Where the host listens, HOST:PORT; else nothing is sent.")
    ] = None,
    open_network: Annotated[
        list[str] | None,
        typer.Option(
            help="Hear packets from this address or network too, beside 127.0.0.1 and --to; several times.",
            metavar="ADDRESS",
        ),
    ] = None,
    name: Annotated[str, typer.Option(help="What to call the host.")] = "my host",
    record: Annotated[
        str | None, typer.Option(help="Keep the interview, for --replay.", metavar="FILE")
    ] = None,
    replay: Annotated[
        str | None, typer.Option(help="Learn from an interview that was kept (.gz too).", metavar="FILE")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a map that is there.")] = False,
    json: Annotated[bool, typer.Option("--json", help="What was found, on stdout, as one object.")] = False,
) -> int:
    """Learn how a host speaks OSC, by an interview: do this in the host, now that.

    Have the host send its OSC to --listen.  You are asked to press play, to stop, to move to
    a bar, to add a marker; what changes then, and how, tells what each address means.  Where
    two explanations fit more is asked; what stays unclear is left out and said.  With --to
    you may also type what the host understands: it is shown, sent when you agree, and kept
    when the host reacts.  Only packets from this machine, from --to and from --open-network
    count.  Exit 3 when nothing could be learnt.

    \b
    Example:
      pulsebridge learn --listen 127.0.0.1:9000 --to 127.0.0.1:9001 --map rig.yaml
    """
    from bridge.cli.learn_network import packets
    from bridge.hostmap import load
    from bridge.learn import host_map_text, spoken_of

    target = Path(map) if map is not None else None
    _refuse_to_overwrite(target, force)
    if replay is not None and record is not None:
        raise UsageError("--replay and --record do not go together", hint="A kept interview is only read.")
    _refuse_bad_words(name, listen, to)
    counts = None
    if replay is not None:
        explained, happenings = _replayed(replay)
    else:
        explained, happenings, counts = _held(listen, to, record, opened=open_network or [])
    spoken = spoken_of(happenings)
    text = host_map_text(explained, spoken, name=name, send_to=to, receive_on=listen)
    load(text, source=map)
    learnt = bool(spoken) or any(one.heard is not None for one in explained.findings)
    if learnt and target is not None:
        _write(target, text, force)
    if json:
        print_json(_as_json(explained, spoken, text, map if learnt else None) | {"packets": packets(counts)})
    elif target is None:
        write_lines(text.splitlines())
    for line in _summary(explained, map if learnt else None):
        note(line)
    return 0 if learnt else _NOTHING_LEARNT


def _refuse_bad_words(name: str, listen: str, to: str | None) -> None:
    """Refuse before the interview what the map could not hold after it."""
    from bridge.hostmap import load
    from bridge.hostmap.load import read_address

    load(f"pulsebridge_host: 1\nname: {dumps(name)}\n")
    read_address(listen, least=0)
    if to is not None:
        read_address(to, least=1)


def _replayed(replay: str) -> tuple[Explained, list[Happening]]:
    from bridge.learn import Happening, explain, read_mark
    from bridge.store.recording import read_recording
    from bridge.store.recording_file import lines_of

    happenings = [
        Happening(one.at, read_mark(one.osc) or one.osc)
        for one in read_recording(lines_of(Path(replay)), source=replay)
        if one.osc is not None
    ]
    explained = explain(happenings)
    if not explained.steps:
        raise PlanError(
            f"{replay!r} holds no interview: it does not say what was done in the host, and when",
            hint="Keep one with 'pulsebridge learn --record FILE'; 'receive --record' keeps no steps.",
        )
    return explained, happenings


def _held(
    listen: str, to: str | None, record: str | None, *, opened: Sequence[str]
) -> tuple[Explained, list[Happening], Counts]:
    """Hold the interview in the terminal; only packets from this machine and who is ``opened`` to count."""
    import contextlib

    from bridge.cli.learn_ear import Ear
    from bridge.cli.learn_network import believed, tell_of_strangers, tell_who_counts
    from bridge.cli.learning import Talk
    from bridge.hostmap.load import read_address
    from bridge.live.borrowed import open_port
    from bridge.store.recorder import Recorder

    here, there = read_address(listen, least=0), read_address(to, least=1) if to is not None else None
    with contextlib.ExitStack() as stack:
        port = stack.enter_context(open_port(here, believe=believed(here, there, opened), tell=note))
        recorder = stack.enter_context(Recorder(Path(record))) if record is not None else None
        note(f"Listening on {port.place[0]}:{port.place[1]}: have the host send its OSC there.")
        tell_who_counts(port.place[0], there, opened)
        ear = stack.enter_context(Ear(port, recorder))
        explained = Talk(ear, to=there).hold()
    if ear.ignored:
        note(f"{ear.ignored:,} messages from others than the host were ignored")
    tell_of_strangers(port.counts)
    return explained, ear.happenings, port.counts


def _refuse_to_overwrite(target: Path | None, force: bool) -> None:
    if target is not None and target.exists() and not force:
        raise UsageError(
            f"{str(target)!r} is there already", hint="Name another file, or write over it with --force."
        )


def _write(target: Path, text: str, force: bool) -> None:
    from bridge.store import write_atomically

    _refuse_to_overwrite(target, force)
    write_atomically(target, text.encode())


def _as_json(
    explained: Explained, spoken: Sequence[Spoken], text: str, written: str | None
) -> dict[str, Any]:
    return {
        "messages": explained.messages,
        "steps": explained.steps,
        "findings": [_finding(one) for one in explained.findings],
        "says": [{"key": one.key, "messages": one.yaml, "evidence": one.evidence} for one in spoken],
        "unexplained": list(explained.unexplained),
        "map": text,
        "written": written,
    }


def _finding(one: Finding) -> dict[str, Any]:
    heard = one.heard
    return {
        "key": one.key,
        "address": heard.address if heard else None,
        "args": dict(heard.args) if heard else None,
        "unit": str(heard.unit) if heard and heard.unit else None,
        "confidence": str(one.confidence) if one.confidence else None,
        "evidence": one.evidence,
        "rivals": list(one.rivals),
        "missing": str(one.missing) if one.missing else None,
    }


def _summary(explained: Explained, written: str | None) -> Iterator[str]:
    """Say for people what was found and what was not."""
    if not explained.messages:
        yield "The host said nothing. Does it send OSC, and to this port?"
    for one in explained.findings:
        heard = one.heard
        if heard is None:
            yield f"{one.key}: I can't tell: {one.evidence}"
        else:
            unit = f" in {heard.unit}" if heard.unit else ""
            yield f"{one.key}: {heard.address}{unit} ({one.confidence})"
    if explained.unexplained:
        shown = ", ".join(explained.unexplained[:8])
        more = f" and {len(explained.unexplained) - 8} more" if len(explained.unexplained) > 8 else ""
        yield f"left aside: {shown}{more}"
    if written is not None:
        yield f"written: {written}"
