"""Exact numbers out of text, and back.

No float and no ``Fraction(str)`` on raw text: ``Fraction`` accepts exponents that
take seconds to expand, underscores, and the digits of other scripts.  This file
knows nothing about music.
"""

from __future__ import annotations

import re
from fractions import Fraction

from bridge.errors import PlanError

__all__ = ["MAX_DIGITS", "exact", "parse_number", "parse_whole", "show_mixed", "show_number"]

MAX_DIGITS = 12
"""No number in a plan, a host map or an option is longer than this."""

_DECIMAL = re.compile(r"([0-9]+)(?:\.([0-9]+))?", re.ASCII)
_RATIO = re.compile(r"([0-9]+)[ \t]*/[ \t]*([0-9]+)", re.ASCII)


def exact(value: Fraction | int | str) -> Fraction:
    """Return ``value`` as an exact rational.

    A float is refused with TypeError: ``115.2`` as a float is not 576/5.  Text is
    read by :func:`parse_number`.
    """
    if isinstance(value, Fraction):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        return Fraction(value)
    if isinstance(value, str):
        return parse_number(value)
    raise TypeError(f"an exact number is a Fraction, an int or text, never {type(value).__name__}: {value!r}")


def parse_number(text: str, *, what: str = "a number") -> Fraction:
    """Read ``12``, ``115.2`` or ``3/16``, zero or more; PlanError for anything else.

    At most 12 ASCII digits (each, above and below a fraction's line), no sign, no exponent,
    no division by zero.
    """
    stripped = text.strip(" \t")
    if match := _RATIO.fullmatch(stripped):
        _refuse_long(match[1], what)
        _refuse_long(match[2], what)
        top, bottom = int(match[1]), int(match[2])
        if bottom == 0:
            raise PlanError(f"{what} cannot be {_quoted(text)}: it divides by zero")
        return Fraction(top, bottom)
    if match := _DECIMAL.fullmatch(stripped):
        _refuse_long(stripped, what)
        decimals = match[2] or ""
        return Fraction(int(match[1] + decimals), 10 ** len(decimals))
    raise PlanError(
        f"{what} cannot be {_quoted(text)}",
        hint="Write digits, as in 12, 115.2 or 3/16: no sign, no exponent.",
    )


def parse_whole(text: str, *, what: str = "a whole number", least: int = 0) -> int:
    """Read a whole number of at least ``least``; PlanError for anything else."""
    value = parse_number(text, what=what)
    if value.denominator != 1:
        raise PlanError(f"{what} is a whole number, not {_quoted(text)}")
    if value < least:
        raise PlanError(f"{what} is {least} or more, not {_quoted(text)}")
    return value.numerator


def show_number(value: Fraction) -> str:
    """Write an exact number as ``12``, ``115.2`` or ``576/7``; what has at most 12 digits reads back."""
    if value.denominator == 1:
        return str(value.numerator)
    power, rest = 0, value.denominator
    while rest % 10 == 0:
        rest //= 10
        power += 1
    twos = (rest & -rest).bit_length() - 1
    fives, odd = 0, rest >> twos
    while odd % 5 == 0:
        odd //= 5
        fives += 1
    places = power + max(twos, fives)
    if odd != 1 or places > 6:
        return f"{value.numerator}/{value.denominator}"
    digits = f"{abs(value.numerator) * 10**places // value.denominator:0{places + 1}d}"
    return f"{'-' if value < 0 else ''}{digits[:-places]}.{digits[-places:]}"


def show_mixed(value: Fraction) -> str:
    """Write an exact number as players read it: ``384``, ``170 2/3``, ``3/4``."""
    whole, rest = divmod(value, 1)
    return f"{whole} {rest}" if rest and whole else str(rest or whole)


def _refuse_long(text: str, what: str) -> None:
    digits = sum(character.isdigit() for character in text)
    if digits > MAX_DIGITS:
        raise PlanError(f"{what} has {digits} digits; at most {MAX_DIGITS} are allowed")


def _quoted(text: str) -> str:
    shown = text if len(text) <= 40 else text[:37] + "..."
    return repr(shown)
