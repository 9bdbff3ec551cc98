"""A position reported now and then, with jitter: where it is in between, and how fast it goes.

A Kalman filter over (position, speed) at irregular times, after Kalman 1960, whose jitter
is learnt.  A report far off is believed when the next one agrees with it, at once when it
is very far: hosts locate and loop, packets are late.  Positions in any one unit, times in
seconds.  This file does not know what is being measured.
"""

from __future__ import annotations

from math import sqrt

__all__ = ["Motion"]

_FIRST_JITTER = 0.003**2
_LEAST_JITTER = 1e-5**2
_FAR = 0.5
"""Seconds: a report farther off than this is no jitter."""
_ODD = 5.0
"""Standard deviations: a report farther off than this waits for the next one to agree."""
_AGREES = 4.0
_LEARN = 1 / 80
_WIDE = 0.05
"""How far the first idea of the speed may be off, as a share of it."""


class Motion:
    """Reports in, position and speed out; ``walk`` is the speed's relative step a second."""

    __slots__ = ("_jitter", "_odd", "_reports", "_sv", "_vv", "_xx", "last", "speed", "value", "walk")

    def __init__(self, at: float, value: float, speed: float, *, walk: float, sure: float = _WIDE) -> None:
        self.walk = walk
        self._jitter = _FIRST_JITTER
        self.restart(at, value, speed, sure=sure)

    def restart(self, at: float, value: float, speed: float, *, sure: float = _WIDE) -> None:
        """Begin anew at ``value``; the jitter learnt so far stays.  ``sure``: the speed's relative error."""
        self.last, self.value, self.speed = at, value, speed
        self._xx = self._jitter * speed * speed
        self._sv = 0.0
        self._vv = (sure * speed) ** 2
        self._reports = 1
        self._odd: tuple[float, float] | None = None

    @property
    def reports(self) -> int:
        """How many reports have agreed since it began."""
        return self._reports

    @property
    def jitter(self) -> float:
        """The standard deviation of the reports' jitter as learnt, in seconds."""
        return sqrt(self._jitter)

    def at(self, time: float) -> float:
        """Return the position at ``time``."""
        return self.value + self.speed * (time - self.last)

    def error(self, time: float) -> float:
        """Return the standard error of the position at ``time``, in seconds."""
        spread = self._carried(time - self.last)[0]
        return sqrt(spread) / abs(self.speed)

    def retime(self, at: float, speed: float, *, sure: float) -> None:
        """Take over a speed that the host has named, from ``at`` on."""
        self.value, self.last = self.at(at), at
        self.speed, self._sv, self._vv = speed, 0.0, (sure * speed) ** 2

    def report(self, at: float, value: float) -> bool:
        """Take a report that came at ``at``; tell whether the position has jumped."""
        xx, sv, vv = self._carried(at - self.last)
        off = value - self.at(at)
        noise = self._jitter * self.speed * self.speed
        if self._is_odd(off, sqrt(xx + noise)):
            if abs(off) > _FAR * abs(self.speed) or self._agrees_with_odd(at, value):
                self.restart(at, value, self.speed)
                return True
            self._odd = (at, value)
            self._jitter *= 1 + 2 * _LEARN
            return False
        self._odd = None
        gain, turn = xx / (xx + noise), sv / (xx + noise)
        self.value, self.last = self.at(at) + gain * off, at
        self.speed += turn * off
        self._xx, self._sv, self._vv = xx - gain * xx, sv - gain * sv, vv - turn * sv
        self._learn((1 - gain) * off)
        return False

    def _is_odd(self, off: float, spread: float) -> bool:
        return abs(off) > _ODD * spread or abs(off) > _FAR * abs(self.speed)

    def _agrees_with_odd(self, at: float, value: float) -> bool:
        if self._odd is None:
            return False
        before, odd = self._odd
        return abs(value - odd - self.speed * (at - before)) < _AGREES * sqrt(2 * self._jitter) * abs(
            self.speed
        )

    def _carried(self, seconds: float) -> tuple[float, float, float]:
        """Return the covariance carried on by ``seconds``: the speed walks."""
        step = (self.walk * self.speed) ** 2 * seconds
        return (
            self._xx + 2 * seconds * self._sv + seconds * seconds * self._vv + step * seconds * seconds / 3,
            self._sv + seconds * self._vv + step * seconds / 2,
            self._vv + step,
        )

    def _learn(self, left: float) -> None:
        self._reports += 1
        rate = max(_LEARN, 1 / (self._reports + 4))
        seen = (left * left + self._xx) / (self.speed * self.speed)
        self._jitter = max(self._jitter + rate * (seen - self._jitter), _LEAST_JITTER)
