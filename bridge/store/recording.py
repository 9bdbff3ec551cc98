"""Recordings: what came in and when, as JSON lines; the form in which problems are reported.

One object a line, after an optional first line ``{"pulsebridge_recording": 1}``: ``at`` in
seconds on one steady clock, never falling, and one of ``midi`` (hex pairs of one whole
message), ``osc`` (address, type tags, arguments; blobs in hex) and ``raw`` (a packet that
could not be read, in hex).  This file does not know what the messages mean.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from bridge.errors import PlanError, Where
from bridge.hostmap import Message

__all__ = ["VERSION", "Recorded", "read_recording"]

VERSION = 1
_HEADER = "pulsebridge_recording"
_KINDS = ("midi", "osc", "raw")
_LONGEST = 2**20
_WITHOUT_DATA: Mapping[str, Any] = {"T": True, "F": False, "N": None, "I": math.inf}
_HINT = 'A line is like {"at": 1.25, "midi": "F8"} or {"at": 1.26, "osc": ["/rig/where", "f", 12.5]}.'


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """One input: when it came, in seconds, and what it was; just one of the three is there."""

    at: float
    midi: bytes | None = None
    osc: Message | None = None
    raw: bytes | None = None


def read_recording(lines: Iterable[bytes], *, source: str | None = None) -> Iterator[Recorded]:
    """Read a recording line by line; PlanError, with its line, for what is none, or out of order."""
    before = -math.inf
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        where = Where(line=number, column=1, file=source, text=_shown(line))
        found = _object(line, where)
        if number == 1 and _HEADER in found:
            if found[_HEADER] != VERSION:
                _refuse(f"the recording's version is {found[_HEADER]!r}; this program reads {VERSION}", where)
            continue
        recorded = _recorded(found, where)
        if recorded.at < before:
            _refuse(
                f"'at' falls from {before:g} to {recorded.at:g}; file order is the order of arrival", where
            )
        before = recorded.at
        yield recorded


def _object(line: bytes, where: Where) -> dict[str, Any]:
    if len(line) > _LONGEST:
        _refuse(f"the line has {len(line)} bytes; at most {_LONGEST} are allowed", where)
    try:
        found = _READER.decode(line.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        _refuse("the line is no JSON object", where)
    if not isinstance(found, dict):
        _refuse("the line is no JSON object", where)
    return found


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number of JSON")


_READER = json.JSONDecoder(parse_constant=_no_constant)


def _recorded(found: dict[str, Any], where: Where) -> Recorded:
    kinds = [kind for kind in _KINDS if kind in found]
    if len(kinds) != 1:
        _refuse(
            f"the line holds {' and '.join(kinds) or 'none'} of {', '.join(_KINDS)}; one is allowed", where
        )
    at, kind = _time(found.get("at"), where), kinds[0]
    if kind == "osc":
        return Recorded(at=at, osc=_message(found["osc"], where))
    data = _bytes(found[kind], kind, where)
    return Recorded(at=at, midi=data) if kind == "midi" else Recorded(at=at, raw=data)


def _time(value: Any, where: Where) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < _LONGEST**2:
        _refuse(f"'at' is a number of seconds, not {str(value)[:40]!r}", where)
    return float(value)


def _bytes(value: Any, kind: str, where: Where) -> bytes:
    try:
        return bytes.fromhex(value)
    except (TypeError, ValueError):
        _refuse(f"{kind!r} is hex pairs, as in F2 08 00, not {str(value)[:40]!r}", where)


def _message(value: Any, where: Where) -> Message:
    try:
        message = Message.from_record(value)
    except (TypeError, ValueError):
        _refuse(f"'osc' is a list of address, type tags and arguments, not {str(value)[:40]!r}", where)
    tags = [tag for tag in message.types if tag not in "[]"]
    bare = len(message.args) < len(tags)
    spoken = [tag for tag in tags if not bare or tag not in _WITHOUT_DATA]
    if len(message.args) != len(spoken):
        _refuse(f"the type tags {message.types!r} do not fit {len(message.args)} arguments", where)
    args = iter(message.args)
    filled = [_argument(tag, next(args), where) if tag in spoken else _WITHOUT_DATA[tag] for tag in tags]
    return Message(message.address, message.types, tuple(filled))


def _argument(tag: str, value: Any, where: Where) -> Any:
    """Return the argument as its tag has it: JSON knows no whole floats and no blobs."""
    if tag in "fd" and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    return _bytes(value, "a blob", where) if tag == "b" else value


def _shown(line: bytes) -> str:
    return line[:200].decode("utf-8", "replace").rstrip("\r\n")


def _refuse(message: str, where: Where) -> NoReturn:
    raise PlanError(message, hint=_HINT, where=where)
