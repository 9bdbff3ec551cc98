"""Mixing: voices into blocks of 16-bit stereo, never louder than asked.

Sounds are scaled once and added as whole numbers.  The scale comes from a bound on the
mix, the sum of what each sound can still reach at each time, so nothing needs to be
rendered twice, and nothing is ever clipped.  This file knows nothing about places or
files.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
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
        bound = max(_bound(voices, side) for side in (0, 1))
        self._scale = peak / bound if bound else 0.0

    def blocks(
        self, *, frames: int, block: int, meter: Meter | None = None, only: int | None = None
    ) -> Iterator[Block]:
        """Yield the mix in blocks of at most ``block`` frames, ``frames`` in all.

        Each block is to be used before the next is asked for.  ``only`` is the number of
        one voice, from 0.
        """
        chosen = self._voices if only is None else [self._voices[only]]
        parts = [_Part(voice, self._scale, weigh=meter is not None) for voice in chosen]
        heard = _Lane(np.zeros((block, 2), np.int16))
        weighed = _Lane(np.zeros((-(-block // EVERY), 2), np.float32))
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
        self._sounds = {name: _struck(sound, gains, weigh=weigh) for name, sound in voice.sounds.items()}
        self._hits, self._next, self._weigh = [*voice.hits, _NEVER], 0, weigh
        self._cuts: dict[tuple[str, int], _Struck] = {}

    def play(self, start: int, size: int, heard: _Lane, weighed: _Lane) -> None:
        """Add every hit that begins within ``size`` samples from ``start``, until the voice's next one."""
        hits, index = self._hits, self._next
        while hits[index][0] < start + size:
            at, name = hits[index]
            index += 1
            struck, room = self._sounds[name], hits[index][0] - at
            if room < len(struck.heard):
                struck = self._cut(name, room)
            heard.add(at - start, struck.heard)
            if self._weigh:
                weighed.add((at - start) // EVERY, struck.weighed)
        self._next = index

    def _cut(self, name: str, room: int) -> _Struck:
        if len(self._cuts) > _KEPT:
            self._cuts.clear()
        if (name, room) not in self._cuts:
            self._cuts[name, room] = self._sounds[name].cut(room)
        return self._cuts[name, room]


class _Lane:
    """One running sum of sounds, a block at a time; what reaches beyond a block is carried over."""

    def __init__(self, frames: NDArray[Any]) -> None:
        self.frames = frames
        self._size = 0
        self._pending: list[NDArray[Any]] = []

    def begin(self, size: int) -> None:
        self._size = size
        self.frames[:size] = 0
        pending, self._pending = self._pending, []
        for rest in pending:
            self.add(0, rest)

    def add(self, at: int, sound: NDArray[Any]) -> None:
        end = at + len(sound)
        if end > self._size:
            self._pending.append(sound[self._size - at :])
            sound, end = sound[: self._size - at], self._size
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


def _bound(voices: Sequence[Voice], side: int) -> float:
    """Return what one channel of the mix cannot exceed: the largest sum of what is left of each sound."""
    times, changes = [np.zeros(1, np.int64)], [np.zeros(1)]
    for voice in voices:
        for name, sound in voice.sounds.items():
            hits = np.array([at for at, which in voice.hits if which == name], np.int64)
            before = 0.0
            for step in (*(step for step in _STEPS if step < len(sound)), len(sound)):
                left = float(np.max(np.abs(sound[step:]), initial=0.0)) * _gains(voice)[side]
                times.append(hits + step)
                changes.append(np.full(len(hits), left - before))
                before = left
    order = np.lexsort((np.concatenate(changes), np.concatenate(times)))
    return float(np.max(np.cumsum(np.concatenate(changes)[order])))
