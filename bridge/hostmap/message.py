"""One OSC message as a value: address, type tags, arguments.

OSC 1.0, https://opensoundcontrol.stanford.edu/spec-1_0.html.  This file knows nothing
about sockets or bytes.
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from bridge.errors import PlanError

__all__ = ["Message", "Number", "address_or_error", "read_number"]

_NOT_IN_ADDRESS = frozenset(" #*,?[]{}")
_MOST_DIGITS = 40


@dataclass(frozen=True, slots=True)
class Message:
    """A message: one type tag an argument, in order; the marks of a list are tags without one."""

    address: str
    types: str = ""
    args: tuple[Any, ...] = ()

    def as_record(self) -> list[Any]:
        """Return it as the recording's contract writes it: address, type tags, arguments."""
        return [self.address, self.types, *(_plain(arg) for arg in self.args)]

    @classmethod
    def from_record(cls, record: list[Any]) -> Message:
        """Read what :meth:`as_record` gave; ValueError for anything else."""
        if len(record) < 2 or not all(isinstance(word, str) for word in record[:2]):
            raise ValueError("a message is a list of an address, type tags and arguments")
        return cls(record[0], record[1], tuple(record[2:]))

    def __str__(self) -> str:
        return " ".join([self.address, *(f"{arg!r}" for arg in self.args)])


@dataclass(frozen=True, slots=True)
class Number:
    """A number from the wire: its exact value, and ``step``, the distance to the next one its type holds."""

    value: Fraction
    step: Fraction


@lru_cache(maxsize=4096)
def read_number(arg: Any, tag: str) -> Number | None:
    """Read an argument of type ``tag`` as a number; None when it is none, or not finite.

    Remembered, since a host tells the same places of its markers over and over.
    """
    if tag in "ih" and isinstance(arg, int):
        return Number(Fraction(arg), Fraction(1))
    if tag in "fd" and isinstance(arg, float) and math.isfinite(arg):
        return Number(Fraction(arg), float_step(arg, tag))
    if tag in "TF":
        return Number(Fraction(int(tag == "T")), Fraction(1))
    if tag in "sS" and isinstance(arg, str):
        return _from_text(arg)
    return None


def float_step(value: float, tag: str) -> Fraction:
    """Return the distance from ``value`` to the next larger number of 32 (``f``) or 64 bits (``d``)."""
    if tag == "d":
        return Fraction(math.ulp(value))
    _, exponent = math.frexp(value)
    return Fraction(2) ** max(exponent - 24, -149)


def as_float32(value: float) -> float:
    """Return the 32-bit number nearest to ``value``; OverflowError beyond its range."""
    return float(struct.unpack(">f", struct.pack(">f", value))[0])


def address_or_error(text: str) -> str:
    """Return ``text`` when it is an OSC address without wildcards; PlanError otherwise."""
    if not text.startswith("/"):
        raise PlanError(f"an OSC address begins with '/': {text[:60]!r}", hint=f"Write /{text[:60].strip()}.")
    bad = next((c for c in text if not " " < c < "\x7f" or c in _NOT_IN_ADDRESS), None)
    if bad is not None:
        raise PlanError(
            f"an OSC address cannot hold {bad!r}: {text[:60]!r}",
            hint="It is printable ASCII without spaces and without # * , ? [ ] { }.",
        )
    return text


def _from_text(text: str) -> Number | None:
    """Read a decimal, as hosts send it that put numbers into texts; digits are bounded."""
    sign, digits = (-1, text[1:]) if text[:1] == "-" else (1, text)
    whole, _, places = digits.strip().partition(".")
    if not (whole + places).isascii() or not (whole + places).isdigit() or len(digits) > _MOST_DIGITS:
        return None
    step = Fraction(1, 10 ** len(places))
    return Number(sign * int(whole + places) * step, step)


def _plain(arg: Any) -> Any:
    return arg.hex() if isinstance(arg, bytes) else arg
