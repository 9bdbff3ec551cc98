"""What a message from the host means, by its host map.

One message may mean several things: hosts put transport and place into one.  What
cannot be read is a value too, so that it can be counted and shown.  This file knows
nothing about sockets or songs.
"""

from __future__ import annotations

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
    "PlayingHeard",
    "PositionHeard",
    "TempoHeard",
    "Unusable",
    "hear",
]

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
    MarkerHeard | MarkerGone | MarkerEnd | TempoHeard | MeterHeard | PositionHeard | PlayingHeard | Unusable
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
