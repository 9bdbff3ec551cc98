"""The guide as a ``.flac``: the same samples as the ``.wav``, smaller, without its cue points.

Written by libsndfile through soundfile, in blocks of a second.  This file knows nothing
about how the guide sounds.
"""

from __future__ import annotations

from typing import BinaryIO

import soundfile

from bridge.out.guide.loudness import PER_SECOND
from bridge.out.guide.performance import Performance
from bridge.out.request import Request, Written
from bridge.song import Frame

__all__ = ["write"]


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write the guide; OSError where the disk refuses."""
    performance = Performance(frame, request.guide)
    sink = _Sink(file)
    try:
        with soundfile.SoundFile(sink, "w", PER_SECOND, 2, subtype="PCM_16", format="FLAC") as sound:
            sound.title, done = frame.song.plan.title, 0
            for block in performance.blocks():
                sound.write(block)
                done += len(block)
                request.progress(done / performance.frames)
    except (soundfile.SoundFileError, AssertionError):  # it asserts that all was written
        sink.raise_fault()
        raise
    sink.raise_fault()
    return Written(
        facts=performance.facts(),
        notes=(*performance.remarks(), "a .flac has no cue points here; the .wav has"),
    )


class _Sink:
    """The file as libsndfile sees it; it remembers the fault that a callback may not raise."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._fault: OSError | None = None

    def write(self, data: bytes) -> int:
        try:
            return self._file.write(data)
        except OSError as error:
            self._fault = self._fault or error
            return 0

    def read(self, size: int = -1) -> bytes:
        return self._file.read(size)

    def seek(self, offset: int, whence: int = 0) -> int:
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        return self._file.tell()

    def raise_fault(self) -> None:
        if self._fault is not None:
            raise self._fault
