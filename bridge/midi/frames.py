"""JACK's frames as seconds of the steady clock: a line that follows the sound card slowly.

A delay-locked loop of the second order (Adriaensen, "Using a DLL to filter time", 2005):
the card's crystal is not the computer's, and within an hour they part by more than a beat
may be off.  The line bends so slowly that it adds no jitter of its own.  This file knows
neither JACK nor MIDI.
"""

from __future__ import annotations

from math import pi, sqrt

__all__ = ["FrameClock"]

_WRAP = 2**32
_BANDWIDTH = 0.02
"""Hz: how fast the line follows; slow, since a call comes as late as the machine is busy."""
_TOO_FAR = 0.5
"""Seconds: beyond this the card has stood still, and the line begins anew."""


class FrameClock:
    """Tell it frame and time once a period; it gives the time of any frame near by.

    Frames are counted in 32 bits, as JACK counts them, and may wrap.
    """

    __slots__ = ("_frame", "_rate", "_seconds", "_speed")

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._frame: int | None = None
        self._seconds = 0.0
        self._speed = 1 / rate
        """Seconds a frame."""

    def tell(self, frame: int, now: float) -> None:
        """Take that the period that begins at ``frame`` was called for at ``now`` seconds."""
        if self._frame is None:
            self._begin(frame, now)
            return
        frames = self._since(frame)
        if frames <= 0:
            return
        expected = self._seconds + frames * self._speed
        off = now - expected
        if abs(off) > _TOO_FAR:
            self._begin(frame, now)
            return
        turn = 2 * pi * _BANDWIDTH * frames / self._rate
        self._frame = frame
        self._seconds = expected + min(sqrt(2) * turn, 1.0) * off
        self._speed += min(turn * turn, 1.0) * off / frames

    def seconds(self, frame: int) -> float:
        """Return the time of ``frame``; ValueError before anything has been told."""
        if self._frame is None:
            raise ValueError("no frame has been told yet")
        return self._seconds + self._since(frame) * self._speed

    def _begin(self, frame: int, now: float) -> None:
        self._frame, self._seconds = frame, now

    def _since(self, frame: int) -> int:
        """Return the frames from the last one told to ``frame``, negative before it."""
        return (frame - (self._frame or 0) + _WRAP // 2) % _WRAP - _WRAP // 2
