"""``pulsebridge export``: write the solved song as files, each by its ending."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import Annotated, Any

import typer

from bridge.cli.output import note, print_json, safe
from bridge.cli.solving import solved_song
from bridge.errors import UsageError
from bridge.out.draft import Draft
from bridge.out.formats import exporter
from bridge.out.request import Request, Written
from bridge.shape import DEFAULT_EFFORT
from bridge.song import Frame

__all__ = ["command"]


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.", metavar="PLAN")],
    files: Annotated[
        list[Path],
        typer.Argument(help="Files to write, each by its ending: .mid .csv .wav", metavar="FILE..."),
    ],
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
    effort: Annotated[int, typer.Option(min=1, help="Steps the planner may take.")] = DEFAULT_EFFORT,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Write the song of PLAN as files, each by its ending; several at once, all or none.

    \b
      .mid  Standard MIDI File: tempo, meters, markers, a track a layer
      .csv  table of the markers: bar, beat, seconds, samples at 48000, ticks at 960
      .wav  guide to hear: a click and one sound a layer, markers as cue points
    Files start at the plan's bar 1: tick 0, sample 0, second 0.

    \b
    Example:
      pulsebridge export examples/low-tide-relay.yaml song.mid markers.csv guide.wav
    """
    exporters = [exporter(path) for path in files]
    _refuse_twins(files)
    drafts = [Draft(path, force=force) for path in files]
    song, _ = solved_song(plan, effort=effort)
    frame, request, written = Frame.of(song), Request(), []
    with ExitStack() as stack:
        for one, draft in zip(exporters, drafts, strict=True):
            stack.callback(draft.drop)
            with draft.open() as file:
                written.append(one.write(frame, file, request))
        for draft in drafts:
            draft.keep()
    _tell(files, written, as_json=json)
    return 0


def _refuse_twins(files: list[Path]) -> None:
    seen: set[Path] = set()
    for path in files:
        if path.resolve() in seen:
            raise UsageError(f"{str(path)!r} is named twice", hint="Name each file once.")
        seen.add(path.resolve())


def _tell(files: list[Path], written: list[Written], *, as_json: bool) -> None:
    if as_json:
        print_json({"files": [_record(path, one) for path, one in zip(files, written, strict=True)]})
        return
    for path, one in zip(files, written, strict=True):
        typer.echo(safe(f"{path}  ({path.stat().st_size:,} bytes)"))
        for remark in one.notes:
            note(f"  {remark}")


def _record(path: Path, written: Written) -> dict[str, Any]:
    return {
        "file": str(path),
        "format": path.suffix.lower().lstrip("."),
        "bytes": path.stat().st_size,
        **written.facts,
        "notes": list(written.notes),
    }
