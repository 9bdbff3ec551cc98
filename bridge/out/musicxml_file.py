"""The song as a MusicXML 4.0 file.

This file knows nothing about the command line.
"""

from __future__ import annotations

from typing import BinaryIO

from bridge.out.musicxml import score_of
from bridge.out.request import Request, Written
from bridge.song import Frame

__all__ = ["write"]


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write the score, from the plan's bar 1 on; UsageError with too many notes."""
    score = score_of(frame.song)
    file.write(score.content)
    request.progress(1.0)
    notes = score.notes
    if frame.count_in_bars or frame.bars_before:
        notes += ("the score has no bars before the song's own: count-in and the host's are left out",)
    return Written(facts={"divisions": score.divisions}, notes=notes)
