"""How long something lasts, as people write it: in bars or in time.

``24 bars`` or a bare ``24``; ``2:30``, ``1:02:30``, ``150s``, ``2.5 min``.  This file
knows nothing about meters or tempi: a span in bars stays in bars.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact.number import parse_number, parse_whole

__all__ = ["Bars", "Seconds", "Span", "parse_bars", "parse_seconds", "parse_span", "show_seconds"]


@dataclass(frozen=True, slots=True)
class Bars:
    """A number of bars, counted by barlines."""

    count: int

    def __str__(self) -> str:
        return f"{self.count} bar{'' if self.count == 1 else 's'}"


@dataclass(frozen=True, slots=True)
class Seconds:
    """A number of seconds, exact."""

    value: Fraction

    def __str__(self) -> str:
        return show_seconds(self.value)


Span = Bars | Seconds

_BARS = re.compile(r"([0-9]+)\s*(?:bars?)?", re.ASCII)
_CLOCK = re.compile(r"(?:([0-9]+):([0-5]?[0-9])|([0-9]+)):([0-5][0-9](?:\.[0-9]+)?)", re.ASCII)
_UNITS = {
    "ms": Fraction(1, 1000),
    "s": Fraction(1),
    "sec": Fraction(1),
    "min": Fraction(60),
    "h": Fraction(3600),
}
_WITH_UNIT = re.compile(r"([0-9]+(?:\.[0-9]+)?)\s*(ms|s|sec|min|h)", re.ASCII)
_HINT = "Write bars, as in '24 bars' or 24, or time, as in 2:30, 150s or 2.5 min."


def parse_span(text: str, *, what: str = "a length") -> Span:
    """Read a length in bars (1 or more) or in time (more than 0); PlanError for anything else."""
    stripped = text.strip()
    if _BARS.fullmatch(stripped):
        return parse_bars(stripped, what=what)
    return parse_seconds(stripped, what=what)


def parse_bars(text: str, *, what: str = "a number of bars") -> Bars:
    """Read ``24 bars`` or ``24``, at least 1; PlanError for anything else."""
    match = _BARS.fullmatch(text.strip())
    if match is None:
        raise PlanError(f"{what} cannot be {text[:40]!r}", hint="Write whole bars, as in '24 bars' or 24.")
    return Bars(parse_whole(match[1], what=f"{what}, in bars,", least=1))


def parse_seconds(text: str, *, what: str = "a time", zero: bool = False) -> Seconds:
    """Read ``2:30``, ``150s``, ``20ms`` or ``2.5 min``; PlanError for anything else.

    Zero is refused unless ``zero`` says that it makes sense.
    """
    stripped = text.strip()
    if match := _CLOCK.fullmatch(stripped):
        hours, minutes_of_hours, minutes, seconds = match.groups(default="0")
        whole = parse_number(hours, what=what) * 60 + parse_number(minutes_of_hours) + parse_number(minutes)
        value = whole * 60 + parse_number(seconds, what=what)
    elif match := _WITH_UNIT.fullmatch(stripped):
        value = parse_number(match[1], what=what) * _UNITS[match[2]]
    else:
        raise PlanError(f"{what} cannot be {text[:40]!r}", hint=_HINT)
    if value == 0 and not zero:
        raise PlanError(f"{what} is more than 0, not {text[:40]!r}")
    return Seconds(value)


def show_seconds(seconds: Fraction) -> str:
    """Write seconds as ``2:30`` or, where they are not whole, ``2:30.25`` (two decimals)."""
    sign, rest = ("-", -seconds) if seconds < 0 else ("", seconds)
    hundredths = round(rest * 100)
    minutes, hundredths = divmod(hundredths, 6000)
    whole, part = divmod(hundredths, 100)
    decimals = f".{part:02d}" if part else ""
    if minutes >= 60:
        return f"{sign}{minutes // 60}:{minutes % 60:02d}:{whole:02d}{decimals}"
    return f"{sign}{minutes}:{whole:02d}{decimals}"
