"""Mixing: voices into blocks of 16-bit stereo, never louder than asked.

Sounds are scaled once and added as whole numbers.  The scale comes from a bound on the
mix, the sum of what each sound can still reach at each time, so nothing needs to be
rendered twice, and nothing is ever clipped.  This file knows nothing about places or
files.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from math import cos, pi, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.out.guide.loudness import EVERY, Meter, weighted
from bridge.out.guide.voices import Voice

__all__ = ["Block", "Mix"]

_FULL_SCALE = 2**15
_CUT = 96
"""Samples over which a sound that is cut short fades out."""
_KEPT = 256
"""How many sounds cut short are kept for the next time: in a ramp each is as long as no other."""
_NEVER = (2**62, "")
_STEPS = (0, 480, 1920, 4800, 9600)
"""Samples after its start at which a sound's remaining height is looked at."""
_FADE_FROM, _FADE_SECONDS = 1 / 2, 1
"""The fade-in: from 6 dB below, so that nobody is startled and a count-in can be counted from its first."""

Block = NDArray[np.int16]
"""Frames by two channels."""


@dataclass(frozen=True, slots=True)
class _Struck:
    """A sound as it is added: 16-bit, and K-weighted for the meter."""

    heard: Block
    weighed: NDArray[np.float32]

    def cut(self, frames: int) -> _Struck:
        """Return the first ``frames`` of it, faded out at their end."""
        return _Struck(_faded(self.heard, frames), _faded(self.weighed, -(-frames // EVERY)))


class Mix:
    """The mix of some voices; the scale is set by all of them, so that stems add up to the whole."""

    def __init__(self, voices: Sequence[Voice], *, per_second: int, peak_dbfs: float) -> None:
        """Scale the voices so that no sample of their mix exceeds ``peak_dbfs`` (0 is full scale)."""
        self._voices, self._per_second = voices, per_second
        peak = max(0, int(_FULL_SCALE * 10 ** (peak_dbfs / 20)) - len(voices))  # each rounds by a half
        self._times, self._bounds = _bounds(voices)
        bound = float(np.max(self._bounds))
        self._scale = peak / bound if bound else 0.0

    def reaches(self, *, frames: int, block: int) -> list[int]:
        """Return, for each block of that many ``frames``, a height that none of its samples exceeds."""
        first = np.searchsorted(self._times, np.arange(0, frames, block))
        first = np.minimum(first, len(self._times) - 1)
        carried = self._bounds[np.maximum(first - 1, 0)]
        highest = np.maximum(np.maximum.reduceat(self._bounds, first), carried) * self._scale
        return [int(height) + len(self._voices) for height in highest.tolist()]

    def blocks(
        self, *, frames: int, block: int, meter: Meter | None = None, only: int | None = None
    ) -> Iterator[Block]:
        """Yield the mix in blocks of at most ``block`` frames, ``frames`` in all.

        Each block is to be used before the next is asked for.  ``only`` is the number of
        one voice, from 0.
        """
        chosen = self._voices if only is None else [self._voices[only]]
        parts = [_Part(voice, self._scale, weigh=meter is not None) for voice in chosen]
        sounds = [struck for part in parts for struck in part.sounds.values()]
        heard = _Lane(block, [struck.heard for struck in sounds], np.int16)
        weighed = _Lane(-(-block // EVERY), [struck.weighed for struck in sounds], np.float32)
        for start in range(0, frames, block):
            size = min(block, frames - start)
            heard.begin(size)
            weighed.begin(size // EVERY)
            for part in parts:
                part.play(start, size, heard, weighed)
            _fade_in(heard.frames[:size], start, self._per_second)
            if meter:
                _fade_in(weighed.frames[: size // EVERY], start // EVERY, self._per_second // EVERY)
                meter.take(weighed.frames[: size // EVERY])
            yield heard.frames[:size]


class _Part:
    """One voice being played: how far it has come, and its sounds as they are added."""

    def __init__(self, voice: Voice, scale: float, *, weigh: bool) -> None:
        gains = np.array(_gains(voice)) * scale
        self.sounds = {name: _struck(sound, gains, weigh=weigh) for name, sound in voice.sounds.items()}
        self._weigh = weigh
        self._hits = chain(voice.hits, [_NEVER])
        self._hit = next(self._hits)
        self._cuts: dict[tuple[str, int], _Struck] = {}

    def play(self, start: int, size: int, heard: _Lane, weighed: _Lane) -> None:
        """Add every hit that begins within ``size`` samples from ``start``, until the voice's next one."""
        at, name = self._hit
        while at < start + size:
            following = next(self._hits)
            struck, room = self.sounds[name], following[0] - at
            if room < len(struck.heard):
                struck = self._cut(name, room)
            heard.add(at - start, struck.heard)
            if self._weigh:
                weighed.add((at - start) // EVERY, struck.weighed)
            at, name = following
        self._hit = at, name

    def _cut(self, name: str, room: int) -> _Struck:
        if len(self._cuts) > _KEPT:
            self._cuts.clear()
        if (name, room) not in self._cuts:
            self._cuts[name, room] = self.sounds[name].cut(room)
        return self._cuts[name, room]


class _Lane:
    """One running sum of sounds, a block at a time; what reaches beyond a block is kept for the next."""

    def __init__(self, block: int, sounds: Sequence[NDArray[Any]], kind: type) -> None:
        self.frames: NDArray[Any] = np.zeros((block + max(map(len, sounds), default=0), 2), kind)
        self._size = self._end = 0

    def begin(self, size: int) -> None:
        """Drop the block before; the next has ``size`` frames."""
        kept = max(0, self._end - self._size)
        self.frames[:kept] = self.frames[self._size : self._size + kept]
        self.frames[kept : self._end] = 0
        self._size, self._end = size, kept

    def add(self, at: int, sound: NDArray[Any]) -> None:
        """Add ``sound`` from frame ``at`` of the block on."""
        end = at + len(sound)
        self._end = max(self._end, end)
        view = self.frames[at:end]
        np.add(view, sound, view)


def _gains(voice: Voice) -> tuple[float, float]:
    """Return left and right at constant power."""
    angle = (voice.pan + 1) * pi / 4
    return cos(angle), sin(angle)


def _struck(sound: NDArray[np.float64], gains: NDArray[np.float64], *, weigh: bool) -> _Struck:
    """Make ``sound`` (one channel) into what is added, at the ``gains`` of left and right."""
    heard = np.rint(np.outer(sound, gains)).astype(np.int16)
    weighed = np.outer(weighted(sound) if weigh else np.zeros(0), gains / _FULL_SCALE)
    return _Struck(heard, weighed.astype(np.float32))


def _faded(sound: NDArray[Any], frames: int) -> NDArray[Any]:
    out = sound[:frames].copy()
    size = min(_CUT, len(out))
    ramp = np.linspace(1, 0, size, endpoint=False)[:, np.newaxis]
    out[-size:] = (out[-size:] * ramp).astype(out.dtype)
    return out


def _fade_in(block: NDArray[Any], start: int, per_second: int) -> None:
    frames = _FADE_SECONDS * per_second
    if start < frames:
        here = np.arange(start, min(start + len(block), frames))
        gain = _FADE_FROM + (1 - _FADE_FROM) * here / frames
        block[: len(here)] = (block[: len(here)] * gain[:, np.newaxis]).astype(block.dtype)


def _bounds(voices: Sequence[Voice]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return times, in order, and what neither channel can exceed from each on: the sum of what is left."""
    keys, changes = [np.zeros(1, np.int64)], [np.zeros((2, 1))]
    for voice in voices:
        for name, sound in voice.sounds.items():
            hits = np.array([at for at, which in voice.hits if which == name], np.int64)
            steps = [step for step in _STEPS if step < len(sound)]
            heights = np.maximum.accumulate(np.abs(sound[::-1]))[::-1][steps]
            change = np.outer(_gains(voice), np.diff(heights, prepend=0, append=0))
            keys.append(2 * np.add.outer([*steps, len(sound)], hits).ravel())
            keys[-1][: len(hits)] += 1  # at one time, what begins comes after what falls
            changes.append(np.repeat(change, len(hits), axis=1))
    key = np.concatenate(keys)
    order = np.argsort(key, kind="stable")
    left, right = np.cumsum(np.concatenate(changes, axis=1)[:, order], axis=1)
    return key[order] // 2, np.maximum(left, right)
