"""The table of file formats: ending, module, one line of help.

The one place to add a format.  Modules are imported on use, so that a table of markers
does not wait for the sound.  This file knows nothing about what the formats hold.
"""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import BinaryIO, Protocol, cast

from bridge.out.endings import known_ending
from bridge.out.request import Request, Written
from bridge.song import Frame

__all__ = ["FORMATS", "Exporter", "ending", "exporter"]

FORMATS: dict[str, tuple[str, str]] = {
    ".mid": ("bridge.out.midi_file", "Standard MIDI File: tempo, meters, markers, a track a layer"),
    ".csv": ("bridge.out.csv_table", "table of the markers: bar, beat, seconds, samples, ticks, SMPTE"),
    ".json": ("bridge.out.json_table", "the same as an object, with the meetings"),
    ".wav": ("bridge.out.wave_file", "guide to hear: a click and one sound a layer, with cue points"),
    ".flac": ("bridge.out.flac_file", "the same guide, smaller"),
    ".musicxml": ("bridge.out.musicxml_file", "score: a rhythm staff a layer (MusicXML 4.0)"),
    ".svg": ("bridge.out.svg_picture", "picture of the form, for a screen"),
    ".png": ("bridge.out.png_picture", "picture of the form, A4 at 200 dots an inch"),
    ".pdf": ("bridge.out.pdf_picture", "picture of the form, for A4 paper"),
}


class Exporter(Protocol):
    """What a module in the table provides."""

    def write(self, frame: Frame, file: BinaryIO, request: Request) -> Written:
        """Write the song as ``frame`` places it; see :mod:`bridge.out.request`."""
        ...


def ending(path: Path) -> str:
    """Return the ending of ``path`` in lower case; UsageError where no format has it."""
    return known_ending(path, FORMATS)


def exporter(path: Path) -> Exporter:
    """Import and return the exporter for the ending of ``path``; UsageError where there is none."""
    return cast("Exporter", import_module(FORMATS[ending(path)][0]))
