"""Arguments whose type is named: ``{type: h, value: 12}``, ``{type: T}``, for every type of OSC 1.0.

https://opensoundcontrol.stanford.edu/spec-1_0.html, both tables of type tags; a list
``[1, 2]`` is sent between the tags ``[`` and ``]``.  This file knows nothing about fields
to be filled in.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Callable
from typing import Any

from bridge.errors import PlanError
from bridge.hostmap.message import as_float32
from bridge.plan.hints import did_you_mean

__all__ = ["LITERAL_TYPES", "WITHOUT_VALUE", "literal"]

WITHOUT_VALUE: dict[str, bool | None] = {"T": True, "F": False, "N": None, "I": True}
"""Types that are their own value, as they are read back from the wire."""
LITERAL_TYPES = {
    "i": "32-bit whole",
    "h": "64-bit whole",
    "f": "32-bit float",
    "d": "64-bit float",
    "s": "text",
    "S": "symbol",
    "b": "blob, bytes in hex",
    "c": "one ASCII character",
    "r": "colour, RRGGBBAA in hex",
    "m": "MIDI message, four bytes in hex: port, status, data, data",
    "t": "time tag, 'immediately' or a whole number",
    "T": "true",
    "F": "false",
    "N": "nil",
    "I": "impulse",
}
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,12}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})", re.ASCII)
_HEX = re.compile(r"(?:[0-9A-Fa-f]{2}\s*)*", re.ASCII)
_LONGEST_BLOB = 1024
_IMMEDIATELY = "immediately"


def literal(tag: str, text: str | None) -> Any:
    """Return the argument of type ``tag`` that ``text`` stands for, as it is read back from the wire.

    PlanError for an unknown type, a value that the type cannot hold, or one too many.
    """
    if tag not in LITERAL_TYPES:
        raise PlanError(
            f"there is no type {tag[:20]!r}; there are {', '.join(LITERAL_TYPES)}",
            hint=did_you_mean(tag, LITERAL_TYPES),
        )
    if tag in WITHOUT_VALUE:
        if text is not None:
            raise PlanError(f"the type {tag} ({LITERAL_TYPES[tag]}) has no value", hint="Leave 'value' out.")
        return WITHOUT_VALUE[tag]
    if text is None:
        raise PlanError(f"the type {tag} needs a value: {LITERAL_TYPES[tag]}", hint="Add 'value: ...'.")
    return _READERS[tag](text)


def _whole(bits: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        sign, digits = (-1, text[1:]) if text[:1] == "-" else (1, text)
        if not digits.isascii() or not digits.isdigit() or len(digits) > 19:
            raise PlanError(f"a whole number is written in digits, not {text[:40]!r}")
        number = sign * int(digits)
        if not -(2 ** (bits - 1)) <= number < 2 ** (bits - 1):
            raise PlanError(f"{text} does not fit {bits} bits")
        return number

    return read


def _float(text: str) -> float:
    if not _NUMBER.fullmatch(text.strip()):
        raise PlanError(f"a number is written as 12 or 0.5, not {text[:40]!r}")
    return float(text)


def _bytes(text: str) -> bytes:
    if not _HEX.fullmatch(text.strip()) or len(text) > 3 * _LONGEST_BLOB:
        raise PlanError(
            f"bytes are written as pairs of hex digits, at most {_LONGEST_BLOB}, not {text[:40]!r}",
            hint="Write 00ff or '00 ff'.",
        )
    return bytes.fromhex(text)


def _four(text: str) -> int:
    raw = _bytes(text.strip().removeprefix("#"))
    if len(raw) != 4:
        raise PlanError(f"this type has four bytes, not {len(raw)}: {text[:40]!r}")
    return int(struct.unpack(">i", raw)[0])


def _character(text: str) -> int:
    if len(text) != 1 or not text.isascii():
        raise PlanError(f"one ASCII character is allowed, not {text[:40]!r}")
    return ord(text)


def _time_tag(text: str) -> int:
    if text.strip() == _IMMEDIATELY:
        return 1
    if len(text.strip()) > 20 or not text.strip().isascii() or not text.strip().isdigit():
        raise PlanError(f"a time tag is 'immediately' or a whole number, not {text[:40]!r}")
    number = int(text)
    if number >= 2**64:
        raise PlanError(f"{text} does not fit 64 bits")
    return number


_READERS: dict[str, Callable[[str], Any]] = {
    "i": _whole(32),
    "h": _whole(64),
    "f": lambda text: as_float32(_float(text)),
    "d": _float,
    "s": str,
    "S": str,
    "b": _bytes,
    "c": _character,
    "r": _four,
    "m": _four,
    "t": _time_tag,
}
