"""Time codes: their frames counted exactly, and put together from quarter frames.

Sources: MIDI Time Code (RP-004/RP-008), which sends a code in eight pieces, a quarter of
a frame apart, pieces 0 and 4 on the frames' edges; SMPTE ST 12-1 for drop frame, which
leaves out the numbers 00 and 01 at each minute but every tenth.  That a code running
backward also names the frame that begins at piece 0 is from memory.  This file knows
nothing about arrival times.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import PeerError
from bridge.follow.messages import FullFrame, QuarterFrame

__all__ = ["RATES", "Assembler", "Rate", "Timecode"]

_PIECES = 8
_DROPPED = 2
"""Frame numbers left out at a minute's beginning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A frame rate: how many frames a nominal second holds, how many pass in a real one."""

    code: int
    count: int
    a_second: Fraction
    drops: bool = False

    @property
    def a_day(self) -> int:
        """Frames in 24 hours of time code."""
        return self.a_minute * 1440 - (self.dropped_in(1440) if self.drops else 0)

    @property
    def a_minute(self) -> int:
        """Frame numbers in a minute that drops none."""
        return self.count * 60

    def dropped_in(self, minutes: int) -> int:
        """Return how many numbers are left out up to and with the start of minute ``minutes``."""
        return _DROPPED * (minutes - minutes // 10) if self.drops else 0


RATES = (
    Rate(code=0, count=24, a_second=Fraction(24)),
    Rate(code=1, count=25, a_second=Fraction(25)),
    Rate(code=2, count=30, a_second=Fraction(30000, 1001), drops=True),
    Rate(code=3, count=30, a_second=Fraction(30)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timecode:
    """A frame by its name; PeerError for one that does not exist at its rate."""

    rate: Rate
    hours: int
    minutes: int
    seconds: int
    frames: int

    def __post_init__(self) -> None:
        inside = self.hours < 24 and self.minutes < 60 and self.seconds < 60 and self.frames < self.rate.count
        if not inside or min(self.hours, self.minutes, self.seconds, self.frames) < 0:
            raise PeerError(f"there is no time code {self} at {self.rate.count} frames a second")
        starts_minute = self.seconds == 0 and self.frames < _DROPPED and self.minutes % 10 != 0
        if self.rate.drops and starts_minute:
            raise PeerError(f"there is no time code {self}: drop frame leaves it out")

    @classmethod
    def of_frame(cls, number: int, rate: Rate) -> Timecode:
        """Return the code of frame ``number``, counted from 00:00:00:00; the day wraps."""
        number %= rate.a_day
        if rate.drops:
            tens, rest = divmod(number, rate.a_minute * 10 - rate.dropped_in(10))
            past = max(rest - _DROPPED, 0) // (rate.a_minute - _DROPPED)
            number += rate.dropped_in(10) * tens + _DROPPED * past
        seconds, frames = divmod(number, rate.count)
        minutes, seconds = divmod(seconds, 60)
        hours, minutes = divmod(minutes, 60)
        return cls(rate=rate, hours=hours, minutes=minutes, seconds=seconds, frames=frames)

    @classmethod
    def of_message(cls, message: FullFrame) -> Timecode:
        """Return the code that a full frame names; PeerError where there is none such."""
        return cls(
            rate=RATES[message.rate],
            hours=message.hours,
            minutes=message.minutes,
            seconds=message.seconds,
            frames=message.frames,
        )

    @property
    def frame(self) -> int:
        """The frames since 00:00:00:00."""
        minutes = self.hours * 60 + self.minutes
        return (minutes * 60 + self.seconds) * self.rate.count + self.frames - self.rate.dropped_in(minutes)

    @property
    def real_seconds(self) -> Fraction:
        """The real seconds since 00:00:00:00: a drop frame second is 1001/1000 of one."""
        return self.frame / self.rate.a_second

    def pieces(self) -> tuple[QuarterFrame, ...]:
        """Return the eight quarter frames that send it forward."""
        values = (self.frames, self.seconds, self.minutes, self.hours | self.rate.code << 5)
        nibbles = [nibble for value in values for nibble in (value & 15, value >> 4)]
        return tuple(QuarterFrame(piece=piece, value=nibble) for piece, nibble in enumerate(nibbles))

    def __str__(self) -> str:
        mark = ";" if self.rate.drops else ":"
        return f"{self.hours:02}:{self.minutes:02}:{self.seconds:02}{mark}{self.frames:02}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A code put together, the quarter frames since its own instant, and which way it runs."""

    code: Timecode
    quarters: int
    forward: bool

    @property
    def real_seconds(self) -> Fraction:
        """The real seconds of the newest piece's instant."""
        return (self.code.frame + Fraction(self.quarters, 4)) / self.code.rate.a_second


class Assembler:
    """Quarter frames in, readings out: one after each whole set, and one a piece from then on.

    A set runs from piece 0 to 7 forward, or from 7 to 0 backward.  A piece out of order
    begins anew: until the next whole set there is no reading.
    """

    __slots__ = ("_direction", "_last", "_nibbles", "_reading", "_run")

    def __init__(self) -> None:
        self._nibbles = [0] * _PIECES
        self._last: int | None = None
        self._direction = 0
        self._run = 0
        self._reading: Reading | None = None

    def reset(self) -> None:
        """Forget the pieces so far: the host has located."""
        self._last, self._direction, self._run, self._reading = None, 0, 0, None

    def take(self, message: QuarterFrame) -> Reading | None:
        """Take one piece; return what is known at its instant.  PeerError for an impossible code."""
        piece = message.piece
        step = 0 if self._last is None else (piece - self._last + 1) % _PIECES - 1
        if step not in (1, -1) or (self._direction and step != self._direction):
            self.reset()
            step = 0
        self._last = piece
        self._direction = step or self._direction
        self._nibbles[piece] = message.value
        if self._reading is not None:
            quarters = self._reading.quarters + step
            self._reading = Reading(code=self._reading.code, quarters=quarters, forward=step > 0)
        first, last = (0, 7) if step >= 0 else (7, 0)
        self._run = 1 if piece == first or (piece in (0, 7) and not step) else self._run + 1
        if piece == last and self._run >= _PIECES:
            self._reading = self._whole(forward=step > 0)
        return self._reading

    def _whole(self, *, forward: bool) -> Reading:
        values = [low | high << 4 for low, high in zip(self._nibbles[::2], self._nibbles[1::2], strict=True)]
        frames, seconds, minutes, hours = values
        message = FullFrame(
            rate=hours >> 5 & 3,
            hours=hours & 31,
            minutes=minutes & 63,
            seconds=seconds & 63,
            frames=frames & 31,
        )
        try:
            code = Timecode.of_message(message)
        except PeerError:
            self.reset()
            raise
        return Reading(code=code, quarters=7 if forward else 0, forward=forward)
