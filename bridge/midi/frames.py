"""JACK's frames as seconds of the steady clock: a line that follows the sound card slowly.

A delay-locked loop of the second order (Adriaensen, "Using a DLL to filter time", 2005):
the card's crystal is not the computer's, and within an hour they part by more than a beat
may be off.  A call can only come late, so that the earliest one of each second says where
the line is (as NTP's clock filter does, RFC 5905), and the line bends so slowly that it
adds no jitter of its own.  This file knows neither JACK nor MIDI.
"""

from __future__ import annotations

from math import pi, sqrt

__all__ = ["FrameClock"]

_WRAP = 2**32
_BANDWIDTH = 0.02
"""Hz: how fast the line follows; the earliest call of a second is late too on a busy machine."""
_TOO_FAR = 0.5
"""Seconds: beyond this the card has stood still, and the line begins anew."""


class FrameClock:
    """Tell it frame and time once a period; it gives the time of any frame near by.

    Frames are counted in 32 bits, as JACK counts them, and may wrap.
    """

    __slots__ = ("_earliest", "_first", "_frame", "_rate", "_seconds", "_speed")

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._frame: int | None = None
        self._seconds = 0.0
        self._speed = 1 / rate
        """Seconds a frame."""
        self._earliest = _TOO_FAR
        """How late the earliest call of this second was, by the line."""
        self._first = True
        """Whether this is the first second: the line is where its earliest call puts it."""

    def tell(self, frame: int, now: float) -> None:
        """Take that the period that begins at ``frame`` was called for at ``now`` seconds."""
        frames = self._since(frame)
        off = now - self._seconds - frames * self._speed
        if self._frame is None or abs(off) > _TOO_FAR:
            self._begin(frame, now)
            return
        if self._first and off < 0:
            self._seconds += off
            self._earliest = 0.0
        else:
            self._earliest = min(self._earliest, off)
        if frames >= self._rate:
            self._bend(frame, frames)

    def seconds(self, frame: int) -> float:
        """Return the time of ``frame``; ValueError before anything has been told."""
        if self._frame is None:
            raise ValueError("no frame has been told yet")
        return self._seconds + self._since(frame) * self._speed

    def _begin(self, frame: int, now: float) -> None:
        self._frame, self._seconds, self._earliest, self._first = frame, now, 0.0, True

    def _bend(self, frame: int, frames: int) -> None:
        """Correct the line by the earliest call of the second that ends with ``frame``."""
        turn = 2 * pi * _BANDWIDTH * frames / self._rate
        self._seconds += frames * self._speed + min(sqrt(2) * turn, 1.0) * self._earliest
        self._speed += min(turn * turn, 1.0) * self._earliest / frames
        self._frame, self._earliest, self._first = frame, _TOO_FAR, False

    def _since(self, frame: int) -> int:
        """Return the frames from the last one told to ``frame``, negative before it."""
        return (frame - (self._frame or 0) + _WRAP // 2) % _WRAP - _WRAP // 2
