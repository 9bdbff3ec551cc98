"""Programme loudness by ITU-R BS.1770-4: K-weighting, mean square, two gates.

Source: BS.1770-4 (2015), annex 1, tables 1 and 2 (filters at 48 kHz) and its gating.
The mix is a sum, and the filters are linear: so each sound is weighted once and the
weighted sounds are added up beside the heard ones, instead of filtering the whole song.
Of them every fourth sample is kept: what lies above 6 kHz then folds down, which changes
no mean square, and the guide has no tone so near 6 kHz that its square would not even out.
This file knows nothing about the song.
"""

from __future__ import annotations

from functools import lru_cache
from math import log10

import numpy as np
from numpy.typing import NDArray

__all__ = ["EVERY", "HOP", "PER_SECOND", "Meter", "weighted"]

PER_SECOND = 48000
"""The only rate for which the standard prints its filters."""
EVERY = 4
"""Of a weighted sound one sample in so many is kept."""
HOP = PER_SECOND // 10 // EVERY
"""Weighted frames: blocks of 400 ms overlap by three quarters."""

_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585))
_HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
_RING = PER_SECOND // 10
"""Frames after which what the filters still give back is nothing."""
_NOTHING = 1e-6
_ABSOLUTE_LUFS, _RELATIVE_LU, _OFFSET = -70.0, -10.0, -0.691


def weighted(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return one in :data:`EVERY` samples of ``sound`` (one channel) after the K-weighting filters.

    It ends where nothing is left.
    """
    frames = len(sound) + _RING
    size = 1 << frames.bit_length()
    heard = np.fft.irfft(np.fft.rfft(sound, size) * _response(size), size)[:frames]
    last = int(np.flatnonzero(np.abs(heard) > _NOTHING)[-1:].sum()) + 1
    return heard[:last:EVERY]


@lru_cache(maxsize=8)
def _response(size: int) -> NDArray[np.complex128]:
    """Return what both filters do to each frequency of a transform of ``size``, a power of two."""
    turn = np.exp(-2j * np.pi / size * np.arange(size // 2 + 1))
    response: NDArray[np.complex128] = np.ones_like(turn)
    for (b0, b1, b2), (a0, a1, a2) in (_SHELF, _HIGH_PASS):
        response *= (b0 + turn * (b1 + turn * b2)) / (a0 + turn * (a1 + turn * a2))
    return response


class Meter:
    """Adds up weighted blocks; full scale is 1, every channel counts the same (left, right)."""

    def __init__(self) -> None:
        """Start with nothing heard."""
        self._energies: list[float] = []

    def take(self, block: NDArray[np.float32]) -> None:
        """Hear a block of frames; all but the last hold a whole number of :data:`HOP`."""
        hops = block[: len(block) // HOP * HOP].reshape(-1, 1, HOP * block.shape[1])
        self._energies += (hops @ hops.transpose(0, 2, 1)).ravel().tolist()

    def lufs(self) -> float | None:
        """Return the integrated loudness; None for silence or less than 400 ms."""
        if len(self._energies) < 4:
            return None
        blocks = np.convolve(self._energies, np.ones(4), "valid") / (4 * HOP)
        loud = blocks[blocks > _power(_ABSOLUTE_LUFS)]
        if not len(loud):
            return None
        gate = _power(_loudness(float(loud.mean())) + _RELATIVE_LU)
        return _loudness(float(loud[loud > gate].mean()))


def _loudness(power: float) -> float:
    return _OFFSET + 10 * log10(power)


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET) / 10))
