"""``pulsebridge export``: write the solved song as files, each by its ending."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, BinaryIO

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
from bridge.cli.output import print_json
from bridge.cli.solving import solved_song
from bridge.cli.writing import GUIDES, bound, records, tell
from bridge.errors import UsageError
from bridge.out.batch import Batch
from bridge.out.formats import exporter
from bridge.out.guide.options import GuideOptions
from bridge.out.request import Request, Written
from bridge.out.smpte import frames_per_second
from bridge.shape import DEFAULT_EFFORT
from bridge.song import Frame, bars_counted_in

__all__ = ["command"]


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.", metavar="PLAN")],
    files: Annotated[
        list[Path] | None, typer.Argument(help="Files to write, each by its ending.", metavar="FILE...")
    ] = None,
    *,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
    count_in: CountIn = False,
    at_origin: Annotated[
        bool, typer.Option("--at-origin", help="Files start at the host's bar 1, not the plan's.")
    ] = False,
    smpte: Annotated[
        str, typer.Option("--smpte", help="Frames a second: 24, 25, 30, 23.976, 29.97 or 29.97df (drop).")
    ] = "25",
    stems: Annotated[
        Path | None, typer.Option("--stems", help="A folder for the guide's voices, one .wav each.")
    ] = None,
    parts: Annotated[
        Path | None, typer.Option("--parts", help="A folder for the players' papers, one .pdf each.")
    ] = None,
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
    """Write the song of PLAN as files, each by its ending; several at once, all or none.

    \b
      .mid   Standard MIDI File: tempo, meters, markers, a track a layer
      .csv   table of the markers: bar, beat, seconds, samples at 48000, ticks at
             960 a quarter, SMPTE time; .json the same with the meetings
      .wav   guide to hear: click, one sound a layer, a bell where all meet;
             .flac the same, smaller
      .musicxml  score, a rhythm staff a layer (MusicXML 4.0)
      .svg .png .pdf  picture of the form, as 'pulsebridge draw' makes it
    Files start at the plan's bar 1: tick 0, sample 0, second 0. The options from
    --from on concern the guide.

    \b
    Examples:
      pulsebridge export examples/low-tide-relay.yaml song.mid markers.csv guide.wav
      pulsebridge export examples/low-tide-relay.yaml practice.wav --count-in \\
        --from "8 bars before Landfall" --to Landfall --times 4 --speed 80%
    """
    paths = list(files or ())
    if not paths and stems is None and parts is None:
        raise UsageError(
            "there is nothing to write",
            hint="Name files, as in song.mid, or give --stems DIR or --parts DIR.",
        )
    exporters = {path: exporter(path) for path in paths}
    frames_per_second(smpte)
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
    if stems is None:
        _refuse_idle(options, paths)
    batch = Batch(force=force)
    for path in paths:
        batch.name(path)
    song, _ = solved_song(plan, effort=effort)
    frame = Frame.of(song, count_in=bars_counted_in(song) if count_in else 0, at_origin=at_origin)
    if stems is not None or any(path.suffix.lower() in GUIDES for path in paths):
        options = with_recordings(options, song, plan)
    request = Request(smpte_rate=smpte, guide=options)
    writers = {path: bound(path, frame, request, one.write) for path, one in exporters.items()}
    if stems is not None:
        writers |= _stem_writers(stems, frame, request, batch)
    if parts is not None:
        writers |= _part_writers(parts, frame, request, batch)
    written = batch.write(writers)
    if json:
        print_json({"files": records(written)})
    else:
        tell(written)
    return 0


def _refuse_idle(options: GuideOptions, paths: list[Path]) -> None:
    """Refuse options of the guide where no guide is written: nothing asked for is ignored."""
    if options != GuideOptions() and not any(path.suffix.lower() in GUIDES for path in paths):
        raise UsageError(
            "options from --from on concern the guide, and none is to be written",
            hint=f"Name a file that ends in {' or '.join(GUIDES)}, or give --stems DIR.",
        )


def _stem_writers(
    folder: Path, frame: Frame, request: Request, batch: Batch
) -> dict[Path, Callable[[BinaryIO], Written]]:
    from bridge.out.guide.performance import Performance
    from bridge.out.stems import stem_paths
    from bridge.out.wave_file import write_stem

    performance = Performance(frame, request.guide)
    writers = {}
    for path, number in stem_paths(performance, folder).items():
        batch.name(path)

        def write(_: Frame, file: BinaryIO, request: Request, number: int = number) -> Written:
            return write_stem(performance, number, file, request)

        writers[path] = bound(path, frame, request, write)
    return writers


def _part_writers(
    folder: Path, frame: Frame, request: Request, batch: Batch
) -> dict[Path, Callable[[BinaryIO], Written]]:
    from bridge.out.parts import part_paths, write_part

    writers = {}
    for path, player in part_paths(frame.song, folder).items():
        batch.name(path)

        def write(frame: Frame, file: BinaryIO, request: Request, player: str = player) -> Written:
            return write_part(frame.song, player, file, request)

        writers[path] = bound(path, frame, request, write)
    return writers
