"""What is asked of an exporter, and what it says that it has written.

An exporter is a module with one function::

    def write(frame: Frame, file: BinaryIO, request: Request) -> Written

It writes to an open binary file from its present place on, closes nothing, and raises
UsageError where the format cannot hold the song.  This file knows no format.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from bridge.errors import UsageError
from bridge.out.guide.options import GuideOptions
from bridge.song import Song

__all__ = ["MOST_NOTES", "Request", "Written", "quiet", "refuse_too_many_notes"]

MOST_NOTES = 2_000_000
"""No file gets more notes than this: a cycle of a millionth of a note fills a disk unnoticed."""


def quiet(share: float) -> None:
    """Take notice of the progress (0 to 1) and say nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """The options of one export, of all formats together; each reads those that concern it."""

    samples_per_second: int = 48000
    ticks_per_quarter: int = 960
    """For tables; a MIDI file chooses its own, so that everything in it is exact."""
    smpte_rate: str = "25"
    """One of :data:`bridge.out.smpte.RATES`."""
    guide: GuideOptions = field(default_factory=GuideOptions)
    progress: Callable[[float], None] = quiet
    """Told the share that is done, 0 to 1, by exporters that take long."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What an exporter says about the file it wrote."""

    facts: Mapping[str, Any] = field(default_factory=dict)
    """Plain values for the JSON, measured numbers as doubles."""
    notes: tuple[str, ...] = ()
    """What was rounded, left out or should be known, in sentences."""


def refuse_too_many_notes(song: Song) -> int:
    """Count the song's notes; UsageError above :data:`MOST_NOTES`, naming the layer with the most."""
    counts: dict[str, int] = {}
    for placed in song.sections:
        for part in placed.parts:
            notes = sum(row.count for row in part.rows())
            counts[part.layer.name] = counts.get(part.layer.name, 0) + notes
    total = sum(counts.values())
    if total > MOST_NOTES:
        worst = max(counts, key=counts.__getitem__)
        raise UsageError(
            f"the song has {total} notes, {counts[worst]} of them in {worst!r}; "
            f"a file gets at most {MOST_NOTES}",
            hint=f"Give {worst!r} a longer cycle, or leave it out.",
        )
    return total
