"""WAVE files as bytes: 16-bit PCM, cue points and their labels.

Source: Multimedia Programming Interface and Data Specifications 1.0 (RIFF, 1991) and its
1994 supplement: chunks are padded to even length; ``cue `` holds 24 bytes a point (id,
position, ``data``, 0, 0, sample offset), ``LIST`` ``adtl`` a ``labl`` (id, text, NUL)
each.  Labels are UTF-8: the format names no encoding.  This file knows nothing about sound.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from bridge.errors import UsageError

__all__ = ["cue_chunks", "wave_header"]

_LARGEST = 2**32 - 1

Cue = tuple[int, str]
"""A sample and its label."""


def wave_header(*, frames: int, channels: int, per_second: int, after: int) -> bytes:
    """Return all bytes before the samples; ``after`` bytes of chunks follow them.

    UsageError where the file would pass the format's 4 GiB.
    """
    frame = 2 * channels
    data = frames * frame
    whole = 4 + (8 + 16) + (8 + data + data % 2) + after
    if whole > _LARGEST:
        raise UsageError(
            f"a WAVE file holds at most {_LARGEST / frame / per_second / 3600:.1f} hours of this sound, "
            f"not {frames / per_second / 3600:.1f}",
            hint="Write .flac instead, or a part of the song.",
        )
    form = struct.pack("<HHIIHH", 1, channels, per_second, per_second * frame, frame, 16)
    return (
        struct.pack("<4sI4s", b"RIFF", whole, b"WAVE")
        + struct.pack("<4sI", b"fmt ", len(form))
        + form
        + struct.pack("<4sI", b"data", data)
    )


def cue_chunks(cues: Sequence[Cue]) -> bytes:
    """Return the chunks that name places in the sound, numbered from 1 in the order given."""
    points = b"".join(
        struct.pack("<II4sIII", number, at, b"data", 0, 0, at) for number, (at, _) in enumerate(cues, 1)
    )
    labels = b"".join(
        _chunk(b"labl", struct.pack("<I", number) + label.encode() + b"\0")
        for number, (_, label) in enumerate(cues, 1)
    )
    return _chunk(b"cue ", struct.pack("<I", len(cues)) + points) + _chunk(b"LIST", b"adtl" + labels)


def _chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack("<4sI", name, len(content)) + content + b"\0" * (len(content) % 2)
