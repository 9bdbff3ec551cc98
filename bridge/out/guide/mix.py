"""Mixing: voices into blocks of 16-bit stereo, never louder than asked.

Sounds are scaled once and added as whole numbers.  A voice never overlaps itself, so the
peaks of the voices heard at one time, added up in each channel, bound the mix: nothing
needs to be rendered twice, and nothing is ever clipped.  This file knows nothing about
places or files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from heapq import merge
from itertools import accumulate
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from bridge.out.guide.voices import Hit, Voice

__all__ = ["PEAK_DBFS", "Block", "blocks"]

PEAK_DBFS = -12.0
_FULL_SCALE = 2**15
_CUT = 96
"""Samples over which a sound that is cut short fades out."""

Block = NDArray[np.int16]
"""Frames by two channels."""
Placed = tuple[int, Block]


def blocks(voices: list[Voice], *, frames: int, block: int, peak_dbfs: float = PEAK_DBFS) -> Iterator[Block]:
    """Yield the mix in blocks of at most ``block`` frames, ``frames`` in all; each is used before the next.

    No sample exceeds ``peak_dbfs`` (0 is full scale).
    """
    streams = _scaled(voices, _round_down(peak_dbfs))
    events = merge(*streams, key=lambda event: event[0])
    mix = np.zeros((block, 2), np.int16)
    pending: list[Placed] = []
    event = next(events, None)
    for start in range(0, frames, block):
        size = min(block, frames - start)
        mix[:size] = 0
        pending = [rest for placed in pending if (rest := _add(mix, placed, size))]
        while event is not None and event[0] < start + size:
            if rest := _add(mix, (event[0] - start, event[1]), size):
                pending.append(rest)
            event = next(events, None)
        yield mix[:size]


def _round_down(peak_dbfs: float) -> int:
    """Return the largest sample that does not exceed ``peak_dbfs``."""
    return int(_FULL_SCALE * 10 ** (peak_dbfs / 20))


def _add(mix: Block, placed: Placed, size: int) -> Placed | None:
    """Add a sound that begins at a frame of the block; return what reaches into the next one."""
    at, sound = placed
    room = size - at
    if len(sound) <= room:
        mix[at : at + len(sound)] += sound
        return None
    mix[at:size] += sound[:room]
    return 0, sound[room:]


def _scaled(voices: list[Voice], peak: int) -> list[Iterator[Placed]]:
    """Return each voice's sounds in time, stereo and scaled so that all together stay under ``peak``."""
    gains = [(cos((voice.pan + 1) * pi / 4), sin((voice.pan + 1) * pi / 4)) for voice in voices]
    loudest = max(_loudest(voices, [gain[side] for gain in gains]) for side in (0, 1))
    scale = (peak - len(voices)) / loudest
    return [_stream(voice, scale * np.array(gain)) for voice, gain in zip(voices, gains, strict=True)]


def _loudest(voices: list[Voice], gains: list[float]) -> float:
    """Return the largest sum of peaks of voices heard at one time."""
    changes: list[tuple[int, float]] = []
    for voice, gain in zip(voices, gains, strict=True):
        for start, end in _joined(voice.spans):
            changes += [(start, voice.peak * gain), (end, -voice.peak * gain)]
    return max(accumulate(change for _, change in sorted(changes)), default=1.0)


def _joined(spans: tuple[tuple[int, int], ...]) -> list[tuple[int, int]]:
    """Join spans that touch or overlap: a voice counts once."""
    joined: list[tuple[int, int]] = []
    for start, end in sorted(spans):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def _stream(voice: Voice, gain: NDArray[np.float64]) -> Iterator[Placed]:
    sounds = {
        name: np.ascontiguousarray(np.rint(np.outer(sound, gain)), np.int16)
        for name, sound in voice.sounds.items()
    }

    @lru_cache(maxsize=256)
    def cut(name: str, frames: int) -> Block:
        return _faded(sounds[name][:frames])

    for (at, name), after in _with_next(voice.hits):
        sound = sounds[name]
        yield at, sound if after is None or after - at >= len(sound) else cut(name, after - at)


def _with_next(hits: Iterable[Hit]) -> Iterator[tuple[Hit, int | None]]:
    """Walk through the hits, each with the sample of the one after it."""
    walk = iter(hits)
    hit = next(walk, None)
    while hit is not None:
        after = next(walk, None)
        yield hit, after[0] if after else None
        hit = after


def _faded(sound: Block) -> Block:
    size = min(_CUT, len(sound))
    out = sound.copy()
    ramp = np.linspace(1, 0, size, endpoint=False)[:, np.newaxis]
    out[-size:] = np.rint(out[-size:] * ramp)
    return out
