"""How single values are written in a plan file, so that they read back as what they were.

This file knows no key by name.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import MAX_DIGITS, Bars, Length, Span, show_number

__all__ = ["Fields", "bars", "cycle", "group", "literal", "names", "note", "number", "span", "text", "time"]

_PLAIN = re.compile(r"[A-Za-z](?:[A-Za-z0-9 _.'-]*[A-Za-z0-9_.'])?", re.ASCII)
_TAKEN_ELSEWHERE = {"true", "false", "yes", "no", "on", "off", "null", "y", "n"}

Fields = list[tuple[str, str]]
"""Keys with the text of their values, in the order they are written."""


def cycle(given: Length | Bars) -> str:
    """Write a cycle: bars, or whole notes, never a bare number."""
    if isinstance(given, Bars):
        return str(given)
    value = given.whole_notes
    return f"{value.numerator}/1" if value.denominator == 1 else note(given)


def bars(count: int) -> str:
    """Write a number of bars."""
    return str(Bars(count))


def note(length: Length) -> str:
    """Write a length in whole notes; PlanError where it is too long to be read back."""
    return _short_enough(length, [str(length), _decimal(length.whole_notes)])


def number(value: Fraction) -> str:
    """Write an exact number; PlanError where it is too long to be read back."""
    return _short_enough(value, [show_number(value), str(value), _decimal(value)])


def span(given: Span) -> str:
    """Write a length in bars or in time."""
    return str(given) if isinstance(given, Bars) else time(given.value)


def time(seconds: Fraction) -> str:
    """Write a time exactly: as a clock shows it, or in seconds or milliseconds."""
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    clock = _decimal(rest).zfill(2) if rest >= 10 else f"0{_decimal(rest)}"
    ways = [f"{hours}:{minutes:02d}:{clock}" if hours else f"{minutes}:{clock}"]
    ways += [f"{_decimal(seconds)}s", f"{_decimal(seconds * 1000)}ms"]
    written = [way for way in ways if "?" not in way]
    fitting = [way for way in written if all(_digits(part) <= MAX_DIGITS for part in way.split(":"))]
    return f'"{_first(fitting, seconds)}"'


def literal(value: int | Fraction | str) -> str:
    """Write an argument that is typed by how it looks: a bare whole number, a bare decimal, a quoted text."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, int):
        return str(value)
    decimals = _short_enough(value, [_decimal(abs(value))])
    return f"{'-' if value < 0 else ''}{decimals}{'' if '.' in decimals else '.0'}"


def _decimal(value: Fraction) -> str:
    """Write all decimals; ``?`` where they do not end."""
    twos = (value.denominator & -value.denominator).bit_length() - 1
    odd, fives = value.denominator >> twos, 0
    while odd % 5 == 0:
        odd, fives = odd // 5, fives + 1
    if odd != 1:
        return "?"
    places = max(twos, fives)
    digits = str(int(value * 10**places)).zfill(places + 1)
    return f"{digits[:-places]}.{digits[-places:]}" if places else digits


def _short_enough(value: object, ways: list[str]) -> str:
    return _first([way for way in ways if "?" not in way and _digits(way) <= MAX_DIGITS], value)


def _first(ways: list[str], value: object) -> str:
    if not ways:
        raise PlanError(
            f"{value} cannot be written in a plan file: a number there has at most {MAX_DIGITS} digits",
            hint="Round it before the plan is made.",
        )
    return ways[0]


def _digits(text: str) -> int:
    return sum(character.isdigit() for character in text)


def group(fields: Fields) -> str:
    """Write keys with the text of their values, in braces."""
    return "{" + ", ".join(f"{key}: {value}" for key, value in fields) + "}"


def names(given: tuple[str, ...]) -> str:
    """Write a list of names."""
    return f"[{', '.join(map(text, given))}]"


def text(value: str) -> str:
    """Write a text, quoted wherever a reader could take it for something else."""
    if _PLAIN.fullmatch(value) and value.lower() not in _TAKEN_ELSEWHERE:
        return value
    return json.dumps(value, ensure_ascii=False)
