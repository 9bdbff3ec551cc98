"""What a message from the host means, by its host map.

One message may mean several things: hosts put transport and place into one.  What
cannot be read is a value too, so that it can be counted and shown.  This file knows
nothing about sockets or songs.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from bridge.hostmap.message import Message, Number, read_number
from bridge.hostmap.model import Heard, HostMap
from bridge.hostmap.pattern import matches

__all__ = [
    "Event",
    "MarkerEnd",
    "MarkerGone",
    "MarkerHeard",
    "MeterHeard",
    "MeterMarkHeard",
    "PlayingHeard",
    "PositionHeard",
    "RegionHeard",
    "TempoHeard",
    "TempoMarkHeard",
    "Unusable",
    "hear",
]

_COLOUR = re.compile("#[0-9A-Fa-f]{6}", re.ASCII)
Handle = int | str | float | None
"""A marker's id as the host tells it; None where it tells none."""


@dataclass(frozen=True, slots=True)
class MarkerHeard:
    """The host tells of one marker."""

    id: Handle
    name: str
    at: Number


@dataclass(frozen=True, slots=True)
class MarkerGone:
    """The host says that a marker was removed."""

    id: Handle


@dataclass(frozen=True, slots=True)
class MarkerEnd:
    """The host says that its list is complete."""


@dataclass(frozen=True, slots=True)
class TempoMarkHeard:
    """The host tells of one tempo of its timeline."""

    id: Handle
    at: Number
    bpm: Number


@dataclass(frozen=True, slots=True)
class MeterMarkHeard:
    """The host tells of one meter of its timeline."""

    id: Handle
    at: Number
    top: int
    bottom: int


@dataclass(frozen=True, slots=True)
class RegionHeard:
    """The host tells of one region; its end only where the map says which argument it is."""

    id: Handle
    name: str
    at: Number
    end: Number | None
    colour: int | None = None
    """0xRRGGBB."""


@dataclass(frozen=True, slots=True)
class TempoHeard:
    """The host's quarter notes a minute."""

    bpm: Number


@dataclass(frozen=True, slots=True)
class MeterHeard:
    """The host's meter."""

    top: int
    bottom: int


@dataclass(frozen=True, slots=True)
class PositionHeard:
    """Where the host's transport stands, in the map's unit."""

    at: Number


@dataclass(frozen=True, slots=True)
class PlayingHeard:
    """Whether the host's transport rolls."""

    playing: bool


@dataclass(frozen=True, slots=True)
class Unusable:
    """A message under an address of the map whose arguments do not fit it."""

    key: str
    message: Message


Event = (
    MarkerHeard
    | MarkerGone
    | MarkerEnd
    | TempoMarkHeard
    | MeterMarkHeard
    | RegionHeard
    | TempoHeard
    | MeterHeard
    | PositionHeard
    | PlayingHeard
    | Unusable
)


def hear(host: HostMap, message: Message) -> tuple[Event, ...]:
    """Return what ``message`` means, in the order of the map; nothing for addresses it does not name.

    The message's address may be a pattern (OSC 1.0) and so be meant for several.
    """
    return tuple(
        _event(key, heard, message) or Unusable(key, message)
        for key, heard in host.hears.items()
        if matches(message.address, heard.address)
    )


def _event(key: str, heard: Heard, message: Message) -> Event | None:
    if key == "marker_end":
        return MarkerEnd()
    found = {name: _argument(message, index) for name, index in heard.args.items()}
    if any(pair is None for pair in found.values()):
        return None
    args = {name: pair for name, pair in found.items() if pair is not None}
    if key == "marker":
        return _marker(args)
    if key in _ON_TIMELINE:
        return _ON_TIMELINE[key](args)
    if key == "marker_gone":
        handle = _handle(args["id"])
        return None if handle is None else MarkerGone(handle)
    numbers = {name: number for name, pair in args.items() if (number := read_number(*pair)) is not None}
    return _transport(key, numbers) if numbers.keys() == args.keys() else None


def _transport(key: str, numbers: dict[str, Number]) -> Event | None:
    if key == "meter":
        top, bottom = numbers["top"].value, numbers["bottom"].value
        if top.denominator != 1 or bottom.denominator != 1 or top < 1 or bottom < 1:
            return None
        return MeterHeard(top.numerator, bottom.numerator)
    value = numbers["value"]
    if key == "tempo":
        return TempoHeard(value) if value.value > 0 else None
    if key == "position":
        return PositionHeard(value)
    return PlayingHeard(value.value != 0)


def _marker(args: dict[str, tuple[Any, str]]) -> MarkerHeard | None:
    at = read_number(*args["at"])
    name, tag = args["name"]
    handle = _handle(args["id"]) if "id" in args else None
    if at is None or tag not in "sSih" or ("id" in args and handle is None):
        return None
    return MarkerHeard(handle, str(name), at)


def _tempo_mark(args: dict[str, tuple[Any, str]]) -> TempoMarkHeard | None:
    at, bpm = read_number(*args["at"]), read_number(*args["bpm"])
    if at is None or bpm is None or bpm.value <= 0:
        return None
    return TempoMarkHeard(_handle_in(args), at, bpm)


def _meter_mark(args: dict[str, tuple[Any, str]]) -> MeterMarkHeard | None:
    at, top, bottom = (read_number(*args[name]) for name in ("at", "top", "bottom"))
    if at is None or top is None or bottom is None:
        return None
    if top.value.denominator != 1 or bottom.value.denominator != 1 or top.value < 1 or bottom.value < 1:
        return None
    return MeterMarkHeard(_handle_in(args), at, int(top.value), int(bottom.value))


def _region(args: dict[str, tuple[Any, str]]) -> RegionHeard | None:
    told = _marker({name: pair for name, pair in args.items() if name not in ("end", "colour")})
    end = read_number(*args["end"]) if "end" in args else None
    colour = _colour(*args["colour"]) if "colour" in args else None
    if told is None or ("end" in args and end is None) or ("colour" in args and colour is None):
        return None
    return RegionHeard(told.id, told.name, told.at, end, colour)


def _colour(value: Any, tag: str) -> int | None:
    """Read a colour: a number 0xRRGGBB, OSC's own type r (RRGGBBAA), or #rrggbb as text."""
    if tag == "r" and isinstance(value, int):
        return (value >> 8) & 0xFFFFFF
    if tag in "ih" and isinstance(value, int) and 0 <= value <= 0xFFFFFF:
        return value
    if tag in "sS" and isinstance(value, str) and _COLOUR.fullmatch(value):
        return int(value[1:], 16)
    return None


_ON_TIMELINE: dict[str, Callable[[dict[str, tuple[Any, str]]], Event | None]] = {
    "tempo_mark": _tempo_mark,
    "meter_mark": _meter_mark,
    "region": _region,
}


def _handle_in(args: dict[str, tuple[Any, str]]) -> Handle:
    return _handle(args["id"]) if "id" in args else None


def _handle(pair: tuple[Any, str]) -> Handle:
    value, tag = pair
    if tag in "ihsS" and isinstance(value, int | str):
        return value
    if tag in "fd" and isinstance(value, float) and value == value:  # noqa: PLR0124  NaN is no handle
        return int(value) if value.is_integer() else value
    return None


def _argument(message: Message, index: int) -> tuple[Any, str] | None:
    tags = message.types
    if index >= len(message.args) or "[" in tags or len(tags) != len(message.args):
        return None
    return message.args[index], tags[index]
