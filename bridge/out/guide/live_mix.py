"""Sounds mixed as they are struck, for a sound card with any number of channels.

The guide's own click, layers and bell go to the first channels (two, where there are two
that no player has), and a player's click to one of its own.  Nothing is ever louder than
asked: each sound has room for another beside it, and what exceeds the peak when many fall
together is cut off there.  This file knows nothing about when things are struck, or cards.
"""

from __future__ import annotations

from collections.abc import Collection
from heapq import heappop, heappush
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from bridge.out.guide.sounds import CLICK, COUNT, DOWNBEAT, LANDING, MEETING, layer_sound, struck
from bridge.out.voicing import note_number

__all__ = ["LiveMix"]

_FULL_SCALE = 2**15
_STRUCK = {
    "click": (CLICK, 1200.0, 0.7),
    "downbeat": (DOWNBEAT, 1200.0, 0.95),
    "count": (COUNT, 1200.0, 0.95),
    "meeting": (MEETING, 1046.5, 0.6),
    "landing": (LANDING, 1046.5, 0.8),
}
"""Timbre, pitch in hertz, level."""
_HOME, _NOTE = 1.0, 0.55
_WIDEST = 0.85
_BESIDE = 0.5
"""The level of a whole sound in the guide's mix: two of the loudest reach the peak together."""
_LATE = 0.05
"""Seconds: what comes later than that is not struck any more."""

Frames = NDArray[np.int16]


class LiveMix:
    """A mix of ``channels`` channels at ``per_second`` frames a second; ``own``: channels of players' clicks.

    ``layers`` is the number of the plan's layers.  No sample exceeds ``peak_dbfs``.
    """

    def __init__(
        self, *, layers: int, channels: int, own: Collection[int], per_second: int, peak_dbfs: float
    ) -> None:
        self.per_second = per_second
        self.channels = channels
        self.late = 0
        """Sounds that were struck late, and those that were too late to be."""
        self._layers = layers
        self._peak = int((_FULL_SCALE - 1) * 10 ** (peak_dbfs / 20))
        free = [channel for channel in range(channels) if channel + 1 not in own]
        self._guide = free[:2]
        self._waiting: list[tuple[int, int, str, int | None]] = []
        self._count = 0
        self._lane = np.zeros((0, channels), np.int32)
        self._sounds = self._made()

    def strike(self, frame: int, kind: str, channel: int | None) -> None:
        """Begin a sound at ``frame``; on the guide's channels, or on ``channel``, counted from 1."""
        self._count += 1
        heappush(self._waiting, (frame, self._count, kind, channel))

    def block(self, start: int, size: int) -> Frames:
        """Return ``size`` frames from frame ``start`` on; each call goes on where the one before ended."""
        self._make_room(size)
        while self._waiting and self._waiting[0][0] < start + size:
            frame, _, kind, channel = heappop(self._waiting)
            self.late += frame < start
            if frame >= start - _LATE * self.per_second:
                self._add(max(0, frame - start), kind, channel)
        out = np.clip(self._lane[:size], -self._peak, self._peak).astype(np.int16)
        self._lane = self._lane[size:]
        return out

    def _add(self, offset: int, kind: str, channel: int | None) -> None:
        sound = self._sounds[kind]
        self._make_room(offset + len(sound))
        if channel is not None:
            if channel <= self.channels:
                self._lane[offset : offset + len(sound), channel - 1] += sound
            return
        for at, gain in zip(self._guide, self._gains(kind), strict=False):
            self._lane[offset : offset + len(sound), at] += (sound * (gain * _BESIDE)).astype(np.int32)

    def _gains(self, kind: str) -> tuple[float, float]:
        """Return left and right at constant power; on one channel all of it."""
        if len(self._guide) < 2:
            return 1.0, 1.0
        number = kind.partition(" ")[2]
        wide = self._layers > 1 and number
        pan = _WIDEST * (2 * int(number) / (self._layers - 1) - 1) if wide else 0.0
        angle = (pan + 1) * pi / 4
        return cos(angle), sin(angle)

    def _make_room(self, frames: int) -> None:
        missing = frames - len(self._lane)
        if missing > 0:
            self._lane = np.concatenate([self._lane, np.zeros((missing, self.channels), np.int32)])

    def _made(self) -> dict[str, NDArray[np.int32]]:
        found = {
            kind: level * struck(timbre, pitch, per_second=self.per_second)
            for kind, (timbre, pitch, level) in _STRUCK.items()
        }
        for number in range(self._layers):
            for kind, level in (("home", _HOME), ("note", _NOTE)):
                sound = layer_sound(
                    number, note_number(number), home=kind == "home", per_second=self.per_second
                )
                found[f"{kind} {number}"] = level * sound
        return {kind: np.rint(sound * self._peak).astype(np.int32) for kind, sound in found.items()}
