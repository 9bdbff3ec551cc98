"""``pulsebridge lengths``: the lengths at which everything comes home; backwards, the tempo.

This file reads the options; what is computed and said stands in its neighbours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from bridge.cli.layer_options import named_layers, read, read_layers, read_meters, read_tempo
from bridge.cli.lengths_answer import Answer, Question, answer, as_json
from bridge.cli.output import note, plain_ascii, print_json, write_lines
from bridge.errors import UsageError
from bridge.exact import Seconds, Span, parse_seconds, parse_span

if TYPE_CHECKING:
    from bridge.out.request import Written

__all__ = ["command"]


def command(
    *,
    layer: Annotated[
        list[str] | None,
        typer.Option(help="NAME=CYCLE[@START][xRATE]; once for each layer.", metavar="LAYER"),
    ] = None,
    meter: Annotated[
        str, typer.Option(help="4/4, 2+2+3/8, or a repeating list: 4/4,4/4,7/8.", metavar="METER")
    ] = "4/4",
    tempo: Annotated[str | None, typer.Option(help="Quarter notes a minute.", metavar="BPM")] = None,
    about: Annotated[str | None, typer.Option(help="The wish: 72bars or 2:30.", metavar="LENGTH")] = None,
    up_to: Annotated[
        str | None, typer.Option(help="List all up to here: 96bars or 5:00.", metavar="LENGTH")
    ] = None,
    within: Annotated[str | None, typer.Option(help="Take near for home: 20ms.", metavar="TIME")] = None,
    resolve: Annotated[
        list[str] | None, typer.Option(help="Who must be home (default: all); once for each.", metavar="NAME")
    ] = None,
    bars: Annotated[str | None, typer.Option(help="With --lasts: find the tempo.", metavar="BARS")] = None,
    lasts: Annotated[
        str | None, typer.Option(help="With --bars: the time they last, 2:30.", metavar="TIME")
    ] = None,
    why: Annotated[bool, typer.Option("--why", help="Show the sum.")] = False,
    write: Annotated[
        list[str] | None,
        typer.Option(help="Write them as a song of one section; repeatable.", metavar="FILE"),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="With --write: replace files that exist.")] = False,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Find the lengths in bars after which every layer is home together.

    A CYCLE is 3/16, 4bars or 3+3+2/8; START is in whole notes, 1/4; RATE is 73/72 or 1.01.
    Without --up-to the first 12 lengths are listed; with it, all, and the one nearest to
    --about is sought among them.

    With --within a home that near to the barline, on either side, counts; each length says
    how far off it is, and the row's period is the bars after which all stand as before.

    With --write the layers over the length nearest to --about, else over the first good one:
    .yaml is a commented plan to go on from, .svg .png .pdf the layers over their bars, the
    others as 'pulsebridge export' writes them: .mid .wav .flac .musicxml .csv .json.

    \b
    Example:
      pulsebridge lengths --tempo 115.2 --about 2:30 \\
        --layer band=4bars --layer drum=3/16
      pulsebridge lengths --layer band=4bars --layer drum=3/16 --write tide.yaml
      pulsebridge lengths --bars 72 --lasts 2:30
    """
    meters = read_meters(meter)
    if bars is not None or lasts is not None:
        stray = {
            "--tempo": tempo,
            "--about": about,
            "--up-to": up_to,
            "--within": within,
            "--why": why or None,
            "--write": bool(write) or None,
            "--force": force or None,
        }
        from bridge.cli.lengths_backwards import backwards

        return backwards(meters, layer or [], resolve or [], bars=bars, lasts=lasts, stray=stray, json=json)
    if force and not write:
        raise UsageError("--force goes with --write", hint="Say what to write, as in --write tide.mid.")
    layers = read_layers(layer or [], meters)
    question = Question(
        meters=meters,
        layers=layers,
        resolve=named_layers("--resolve", resolve, layers) if resolve else layers,
        tempo=read_tempo(tempo),
        about=_span("--about", about),
        up_to=_span("--up-to", up_to),
        within=None
        if within is None
        else read("--within", lambda: parse_seconds(within, what="a tolerance")),
    )
    found = answer(question)
    written = _write(found, layer or [], write, force=force) if write else {}
    if write and not written:
        note("nothing was written: there is no good length to write")
    sum_lines = _sum(found) if why else []
    if json:
        print_json(as_json(found, why="\n".join(sum_lines) or None) | {"written": _records(written)})
    else:
        _tell(found, sum_lines)
        _tell_written(written)
    return found.exit_code


def _write(
    found: Answer, texts: Sequence[str], paths: Sequence[str], *, force: bool
) -> Mapping[Path, Written]:
    from bridge.cli.lengths_files import write_idea

    return write_idea(found, texts, [Path(path) for path in paths], force=force)


def _records(written: Mapping[Path, Written]) -> list[dict[str, Any]] | None:
    if not written:
        return None
    from bridge.cli.writing import records

    return records(written)


def _tell_written(written: Mapping[Path, Written]) -> None:
    if written:
        from bridge.cli.writing import tell

        write_lines([""])
        tell(written)


def _span(option: str, text: str | None) -> Span | None:
    return None if text is None else read(option, lambda: parse_span(text))


def _tolerance(text: str) -> Seconds:
    return read("--within", lambda: parse_seconds(text, what="a tolerance"))


def _sum(found: Answer) -> list[str]:
    """Return the sum behind the first good length, and the one nearest to the wish."""
    from bridge.cli.sum_in_words import sum_in_words

    bars = [count for count in (found.first, found.nearest) if count is not None]
    return sum_in_words(found.question.meters, found.question.resolve, bars)


def _tell(found: Answer, sum_lines: list[str]) -> None:
    from textwrap import wrap

    from bridge.cli.lengths_words import in_lines

    if not found.lengths:
        note(f"pulsebridge: {found.why}.")
    else:
        write_lines(in_lines(found, plain=plain_ascii()))
    if sum_lines:
        wrapped = [part for line in sum_lines for part in wrap(line, 80, subsequent_indent="    ")]
        write_lines(["", *wrapped] if found.lengths else wrapped)
