"""The guide as a ``.wav``: 16 bits, stereo, with a cue point and a label at each marker.

Computed and written in blocks of a second.  This file knows nothing about how the
guide sounds.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import BinaryIO

from bridge.out.guide.loudness import PER_SECOND
from bridge.out.guide.mix import Block
from bridge.out.guide.performance import Performance
from bridge.out.request import Request, Written
from bridge.out.riff import cue_chunks, wave_header
from bridge.song import Frame

__all__ = ["write", "write_stem"]


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write the guide; UsageError where it would not fit into the format."""
    performance = Performance(frame, request.guide)
    _write(performance, performance.blocks(), file, request)
    return Written(
        facts={**performance.facts(), "cue_points": len(performance.cues)},
        notes=tuple(performance.remarks()),
    )


def write_stem(performance: Performance, number: int, file: BinaryIO, request: Request) -> Written:
    """Write voice ``number`` of the guide alone, with the same length and cue points."""
    _write(performance, performance.stem(number), file, request)
    return Written(facts={"voice": performance.voices[number].name})


def _write(performance: Performance, blocks: Iterable[Block], file: BinaryIO, request: Request) -> None:
    frames, after, done = performance.frames, cue_chunks(performance.cues), 0
    file.write(wave_header(frames=frames, channels=2, per_second=PER_SECOND, after=len(after)))
    for block in blocks:
        file.write(block.astype("<i2", copy=False).data)
        done += len(block)
        request.progress(done / frames)
    file.write(after)
