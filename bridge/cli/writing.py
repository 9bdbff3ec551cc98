"""What every command that writes files of a song shares: progress, what was written, in words and as JSON.

This file knows no format but by its ending.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, BinaryIO

import typer

from bridge.cli.output import note, safe
from bridge.cli.progress import Progress
from bridge.out.request import Request, Written
from bridge.song import Frame

__all__ = ["GUIDES", "bound", "records", "tell"]

GUIDES = (".wav", ".flac")
TIMELINES = (".mid", ".csv", ".json")
Write = Callable[[Frame, BinaryIO, Request], Written]


def bound(path: Path, frame: Frame, request: Request, write: Write) -> Callable[[BinaryIO], Written]:
    """Bind a writer to its file's progress; on a timeline, say where the file begins."""
    excerpt = path.suffix.lower() in GUIDES and request.guide.begin is not None
    on_a_timeline = path.suffix.lower() in (*GUIDES, *TIMELINES) and not excerpt
    beginning = tuple(frame.remarks()) if on_a_timeline else ()

    def written(file: BinaryIO) -> Written:
        progress = Progress(f"writing {path.name}")
        told = write(frame, file, replace(request, progress=progress))
        progress.finish()
        return replace(told, notes=(*told.notes, *beginning))

    return written


def records(written: Mapping[Path, Written]) -> list[dict[str, Any]]:
    """Return what was written as records for the JSON, in order."""
    return [_record(path, one) for path, one in written.items()]


def tell(written: Mapping[Path, Written]) -> None:
    """Print what was written; what should be known about it goes to stderr."""
    for path, one in written.items():
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
