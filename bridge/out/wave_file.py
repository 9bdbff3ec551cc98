"""The guide as a ``.wav``: 16 bits, stereo, with a cue point and a label at each marker.

Computed and written in blocks of a second.  This file knows nothing about how the
guide sounds.
"""

from __future__ import annotations

from typing import BinaryIO

from bridge.exact import samples
from bridge.out.guide.mix import PEAK_DBFS, blocks
from bridge.out.guide.voices import voices_of
from bridge.out.request import Request, Written, refuse_too_many_notes
from bridge.out.riff import cue_chunks, wave_header
from bridge.song import Frame

__all__ = ["write"]

HEARING = "the guide peaks at {peak} dBFS at most; start low, turn it up slowly, mind your hearing"
_RING_SECONDS = 5.5
"""What follows the song's end, so that the last landing can ring."""


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write the guide; UsageError where it would not fit into the format."""
    refuse_too_many_notes(frame.song)
    rate = request.samples_per_second
    frames = samples(frame.total_seconds, rate) + round(_RING_SECONDS * rate)
    cues = [(samples(frame.seconds(marker.place), rate), marker.name) for marker in frame.song.markers]
    after = cue_chunks(cues)
    file.write(wave_header(frames=frames, channels=2, per_second=rate, after=len(after)))
    for number, block in enumerate(blocks(voices_of(frame, rate), frames=frames, block=rate)):
        file.write(block.data)
        request.progress(min(1.0, (number + 1) * rate / frames))
    file.write(after)
    return Written(
        facts={
            "samples_per_second": rate,
            "seconds": frames / rate,
            "peak_limit_dbfs": PEAK_DBFS,
            "cue_points": len(cues),
        },
        notes=(HEARING.format(peak=f"{PEAK_DBFS:g}"),),
    )
