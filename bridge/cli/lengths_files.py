"""The answer of ``lengths`` as files: its layers as a song of one section, or as a plan to go on from.

This file knows nothing about what the formats hold.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import BinaryIO

from bridge.cli.layer_options import layer_plans
from bridge.cli.lengths_answer import Answer
from bridge.cli.starter_plan import starter_text
from bridge.cli.writing import bound
from bridge.cycles import GoodLengths
from bridge.exact import Tempo
from bridge.out.batch import Batch
from bridge.out.endings import known_ending
from bridge.out.formats import FORMATS, exporter
from bridge.out.pictures import PICTURES
from bridge.out.request import Request, Written
from bridge.plan import Plan, Section
from bridge.song import Frame, Song, unroll

__all__ = ["SECTION", "write_idea"]

SECTION = "First Idea"
_PLANS = (".yaml", ".yml")
_TEMPO = Tempo.constant(Fraction(120))


def write_idea(
    found: Answer, texts: Sequence[str], paths: Sequence[Path], *, force: bool
) -> Mapping[Path, Written]:
    """Write the layers of ``found``, as given in ``texts``, by each path's ending: all files or none.

    Over the length nearest to the wish, else over the first; nothing where there is none.
    UsageError for an ending that is no format, and for a file that exists without ``force``.
    """
    batch = Batch(force=force)
    for path in paths:
        known_ending(path, (*_PLANS, *FORMATS))
        batch.name(path)
    if not found.lengths:
        return {}
    bars = found.nearest or found.lengths[0]
    song = unroll(_plan(found, texts, bars), [bars])
    return batch.write({path: _writer(path, song, found) for path in paths})


def _plan(found: Answer, texts: Sequence[str], bars: int) -> Plan:
    """Make the plan of one section; its landing is asked for where all come home exactly."""
    question = found.question
    layers = layer_plans(texts, question.layers)
    home = tuple(layer.name for layer in question.resolve) if isinstance(found.row, GoodLengths) else ()
    section = Section(
        index=0,
        name=SECTION,
        layers=tuple(layer.name for layer in layers),
        meters=question.meters,
        tempo=question.tempo or _TEMPO,
        resolve=home,
        bars=bars,
    )
    title = " and ".join(layer.name for layer in layers[:2]) + (" and more" if len(layers) > 2 else "")
    return Plan(title=title[:60], layers={layer.name: layer for layer in layers}, sections=(section,))


def _writer(path: Path, song: Song, found: Answer) -> Callable[[BinaryIO], Written]:
    ending = path.suffix.lower()
    if ending in PICTURES:
        return partial(_write_picture, song, ending)
    if ending in _PLANS:
        write: Callable[[BinaryIO], Written] = partial(_write_plan, song, path.name, found)
    else:
        write = bound(path, Frame.of(song), Request(), exporter(path).write)
    return write if found.question.tempo else partial(_without_tempo, write)


def _write_plan(song: Song, name: str, found: Answer, file: BinaryIO) -> Written:
    file.write(starter_text(song.plan, name, lengths=found.lengths).encode())
    return Written(notes=(f"a plan to go on from: pulsebridge plan {name}",))


def _write_picture(song: Song, ending: str, file: BinaryIO) -> Written:
    """Draw the layers over their bars, as ``draw --layer`` does."""
    from bridge.out.handout import handout_scene, stretch_of_section
    from bridge.out.pictures import picture, told
    from bridge.out.typeface import Typeface

    faces = Typeface.installed()
    scene = handout_scene(stretch_of_section(song.sections[0]), faces)
    file.write(picture(scene, ending, faces))
    return told([scene], faces, boxed=ending != ".svg")


def _without_tempo(write: Callable[[BinaryIO], Written], file: BinaryIO) -> Written:
    written = write(file)
    note = f"at {_TEMPO.start} quarter notes a minute, since no --tempo is given"
    return Written(facts=written.facts, notes=(*written.notes, note))
