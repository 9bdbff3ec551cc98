"""The sounds of the guide: short struck tones, made of a few fading partials.

A sound is mono, float, with a peak of 1, starts at its first sample and ends in silence.
The partials follow common practice for struck bars, glasses and strings (no source);
pitches are equal-tempered from A = 440 Hz.  This file knows nothing about levels, places
or the song.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isqrt, log, pi

import numpy as np
from numpy.typing import NDArray

__all__ = ["CLICK", "COUNT", "DOWNBEAT", "LANDING", "LAST", "MEETING", "Sound", "layer_sound", "struck"]

Sound = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Timbre:
    """Partials as (multiple of the pitch, level, seconds to fall by 60 dB), and a rise in seconds."""

    partials: tuple[tuple[float, float, float], ...]
    rise: float = 0.0015


_KEPT = 0.8
"""Of the time to fall by 60 dB so much is kept; the rest, 48 dB down, is faded out."""
_LAYERS = (
    Timbre(((1, 1.0, 0.26), (3.93, 0.30, 0.12), (9.2, 0.08, 0.05))),
    Timbre(((1, 1.0, 0.24), (2, 0.55, 0.20), (3, 0.30, 0.15), (4, 0.15, 0.10))),
    Timbre(((1, 1.0, 0.30), (2.76, 0.35, 0.20), (5.40, 0.12, 0.12))),
    Timbre(((1, 1.0, 0.22), (3, 0.35, 0.16), (5, 0.20, 0.10))),
    Timbre(((1, 1.0, 0.20), (1.5, 0.40, 0.18), (2.5, 0.15, 0.08)), rise=0.004),
)
_BRIGHT = ((2.0, 0.5, 0.20), (4.0, 0.25, 0.12))
"""Added to a layer's sound where it is home."""
_BELL = ((0.5, 0.4, 1.0), (1.0, 1.0, 0.8), (1.2, 0.35, 0.6), (2.0, 0.4, 0.5), (2.98, 0.2, 0.3))
CLICK = Timbre(((1, 1.0, 0.045), (2.4, 0.4, 0.025)), rise=0.0008)
DOWNBEAT = Timbre(((1.5, 1.0, 0.060), (3.6, 0.4, 0.035)), rise=0.0008)
COUNT = Timbre(((0.75, 1.0, 0.070), (1.5, 0.8, 0.060), (3.0, 0.25, 0.030)), rise=0.0008)
"""A section counted in: lower and rounder than the click, to be told from it at once."""
MEETING = Timbre(_BELL, rise=0.003)
LANDING = Timbre(tuple((ratio, level, 2 * fall) for ratio, level, fall in _BELL), rise=0.003)
LAST = Timbre(tuple((ratio, level, 5 * fall) for ratio, level, fall in _BELL), rise=0.003)
"""The last landing, left to ring."""


def layer_sound(layer: int, note: int, *, home: bool, per_second: int) -> Sound:
    """Make the sound of the plan's layer number ``layer`` at a MIDI note; brighter where it is home."""
    timbre = _LAYERS[layer % len(_LAYERS)]
    partials = timbre.partials + (_BRIGHT if home else ())
    return struck(Timbre(partials, timbre.rise), 440 * 2 ** ((note - 69) / 12), per_second=per_second)


def struck(timbre: Timbre, pitch: float, *, per_second: int) -> Sound:
    """Make one struck tone of ``pitch`` hertz; partials above a fifth of the rate are left out."""
    seconds = _KEPT * max(fall for _, _, fall in timbre.partials)
    frames = round(seconds * per_second)
    tone = np.zeros(frames)
    for ratio, level, fall in timbre.partials:
        if ratio * pitch < 0.2 * per_second:
            decay = -3 * log(10) / fall
            tone += level * _turning(complex(decay, 2 * pi * ratio * pitch) / per_second, frames)
    rise = min(frames, round(4 * timbre.rise * per_second))
    tone[:rise] *= np.sin(np.linspace(0, pi / 2, rise)) ** 2
    tail = min(frames, round(0.02 * per_second))
    tone[-tail:] *= np.linspace(1, 0, tail)
    faded: Sound = tone / np.max(np.abs(tone))
    return faded


def _turning(exponent: complex, frames: int) -> Sound:
    """Return the imaginary part of exp(exponent·n) for n from 0: a fading sine, by few multiplications."""
    wide = isqrt(frames) + 1
    coarse = np.exp(exponent * wide * np.arange(wide))
    fine = np.exp(exponent * np.arange(wide))
    wave: Sound = np.outer(coarse, fine).ravel()[:frames].imag
    return wave
