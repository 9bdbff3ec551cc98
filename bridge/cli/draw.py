"""``pulsebridge draw``: a picture of the form, or a handout of layers over their bars."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, BinaryIO

import typer

from bridge.cli.output import note, print_json, safe
from bridge.errors import UsageError

if TYPE_CHECKING:
    from bridge.out.batch import Batch
    from bridge.out.scene import Scene
    from bridge.out.typeface import Typeface
    from bridge.song import PlacedSection, Song

__all__ = ["command"]


def command(
    words: Annotated[
        list[Path],
        typer.Argument(metavar="[PLAN] FILE", help="The plan (none with --layer), then .svg .png or .pdf."),
    ],
    *,
    section: Annotated[
        str | None, typer.Option(metavar="NAME", help="A handout of this section instead of the whole form.")
    ] = None,
    layer: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=CYCLE", help="A handout without a plan: NAME=CYCLE[@START][xRATE]."),
    ] = None,
    meter: Annotated[str, typer.Option(help="With --layer: 4/4, 2+2+3/8, or a list 4/4,4/4,7/8.")] = "4/4",
    tempo: Annotated[str | None, typer.Option(help="With --layer: quarter notes a minute.")] = None,
    bars: Annotated[
        int | None, typer.Option(min=1, max=100_000, help="With --layer: bars to draw (default: one period).")
    ] = None,
    title: Annotated[str | None, typer.Option(help="With --layer: the title.")] = None,
    count: Annotated[bool, typer.Option("--count", help="In a handout: counting syllables.")] = False,
    font: Annotated[
        list[Path] | None,
        typer.Option(metavar="FONT", help="A font for letters that ours lack; repeatable."),
    ] = None,
    dpi: Annotated[int, typer.Option(min=30, max=600, help="Dots per inch of a .png.")] = 200,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
    effort: Annotated[int | None, typer.Option(min=1, help="Steps the planner may take.")] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Draw the form of PLAN on one page, or layers over their bars as a handout.

    The form: sections to scale in time, the energy, who plays, where layers are home and
    where all meet, builds joined to their payoffs.

    With --section or --layer, a handout: layers over their bars, every home marked, the
    turns counted down to each meeting.  Files are written by their ending; several at once.

    \b
    Example:
      pulsebridge draw examples/low-tide-relay.yaml form.pdf form.png
      pulsebridge draw examples/low-tide-relay.yaml --section Crossing crossing.pdf
      pulsebridge draw --layer band=4bars --layer drum=3/16 --count handout.pdf
    """
    from bridge.out.typeface import Typeface

    if layer:
        _refuse(section is not None, "--section needs a plan, --layer does without one")
        files = words
    else:
        _refuse(bool(title or tempo or bars), "--title, --tempo and --bars go with --layer")
        _refuse(len(words) < 2, "a plan and a file to draw into are needed")
        _refuse(count and section is None, "--count goes with --section or --layer")
        files = words[1:]
    batch = _batch(files, force=force)
    faces = Typeface.installed(font or ())
    if layer:
        scene = _handout(layer, meter=meter, tempo=tempo, bars=bars, title=title, count=count, faces=faces)
    else:
        scene = _of_plan(words[0], section=section, count=count, effort=effort, faces=faces)
    _write(batch, files, scene, faces, dpi=dpi)
    _tell(files, scene, faces, as_json=json)
    return 0


def _refuse(wrong: bool, message: str) -> None:
    if wrong:
        raise UsageError(message, hint="See 'pulsebridge draw --help' for examples.")


def _batch(files: Sequence[Path], *, force: bool) -> Batch:
    """Refuse what cannot be written before anything is solved or drawn."""
    from bridge.out.batch import Batch
    from bridge.out.pictures import picture_ending

    batch = Batch(force=force)
    for path in files:
        picture_ending(path)
        batch.name(path)
    return batch


def _handout(
    texts: Sequence[str],
    *,
    meter: str,
    tempo: str | None,
    bars: int | None,
    title: str | None,
    count: bool,
    faces: Typeface,
) -> Scene:
    from bridge.cli.layer_options import read_layers, read_meters, read_tempo
    from bridge.out.handout import handout_scene, stretch_of_layers

    meters = read_meters(meter)
    layers = read_layers(texts, meters)
    stretch = stretch_of_layers(layers, meters, bars=bars, tempo=read_tempo(tempo), title=title)
    return handout_scene(stretch, faces, count=count)


def _of_plan(plan: Path, *, section: str | None, count: bool, effort: int | None, faces: Typeface) -> Scene:
    from bridge.cli.solving import solved_song
    from bridge.out.form import form_scene
    from bridge.out.handout import handout_scene, stretch_of_section
    from bridge.shape import DEFAULT_EFFORT

    song, _ = solved_song(plan, effort=effort or DEFAULT_EFFORT)
    if section is None:
        return form_scene(song, faces)
    return handout_scene(stretch_of_section(_named(song, section)), faces, count=count)


def _named(song: Song, name: str) -> PlacedSection:
    for placed in song.sections:
        if placed.name == name:
            return placed
    names = [placed.name for placed in song.sections]
    near = get_close_matches(name, names, n=1)
    raise UsageError(
        f"there is no section {name[:40]!r}",
        hint=f"Did you mean {near[0]!r}?" if near else f"There are {', '.join(map(repr, names[:12]))}.",
    )


def _write(batch: Batch, files: Sequence[Path], scene: Scene, faces: Typeface, *, dpi: int) -> None:
    """Write every file, or none."""
    from bridge.out.pictures import picture, picture_ending
    from bridge.out.request import Written

    def drawn(ending: str, file: BinaryIO) -> Written:
        file.write(picture(scene, ending, faces, dots_per_inch=dpi))
        return Written()

    batch.write({path: partial(drawn, picture_ending(path)) for path in files})


def _tell(files: Sequence[Path], scene: Scene, faces: Typeface, *, as_json: bool) -> None:
    from bridge.out.pictures import told

    written = told([scene], faces, boxed=any(path.suffix.lower() != ".svg" for path in files))
    for remark in written.notes:
        note(remark)
    if as_json:
        rows = [
            {"file": str(path), "format": path.suffix.lower().lstrip("."), "bytes": path.stat().st_size}
            for path in files
        ]
        print_json({"files": rows, **written.facts, "notes": list(written.notes)})
        return
    for path in files:
        typer.echo(safe(f"{path}  ({path.stat().st_size:,} bytes)"))
