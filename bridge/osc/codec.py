"""OSC messages to bytes and back, by OSC 1.0, with python-osc's readers of single values.

https://opensoundcontrol.stanford.edu/spec-1_0.html.  Three things are done here and not
left to the library: a message with an unknown type tag is discarded, as the specification
says, instead of having its later arguments shifted; a bundle's element sizes are checked,
since a negative one would loop for ever; and every fault becomes one error.  A message
without a type tag string is taken without its arguments, which cannot be read.  Time tags
stay beside their messages: :mod:`bridge.osc.held` knows what they ask for, and
:func:`decode` passes over them.  This file knows nothing about sockets or clocks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from struct import unpack_from
from typing import Any

from pythonosc.parsing import osc_types

from bridge.errors import PeerError
from bridge.hostmap import Message
from bridge.osc.writing import packet_of

__all__ = ["IMMEDIATELY", "Part", "UnknownTypeError", "UnreadableError", "decode", "encode", "read_packet"]

IMMEDIATELY = 1
"""The time tag of 63 zero bits and a one."""

_BUNDLE = b"#bundle\x00"
_DEEPEST = 8
_MOST_MESSAGES = 4096
_SHORT = 256
"""Bytes: longer packets are not remembered."""
_HEAD = len(_BUNDLE) + 8


class UnreadableError(PeerError):
    """A packet that is no OSC, or a message whose types are not known."""


class UnknownTypeError(UnreadableError):
    """A message with a type tag that nobody here knows: the specification has it discarded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One message of a packet, or bytes of it that could not be read and what was wrong with them."""

    raw: bytes
    message: Message | None = None
    fault: UnreadableError | None = None
    tag: int = IMMEDIATELY
    """The time tag it stands under: seconds since 1900 in units of 2^-32."""


_Reader = Callable[[bytes, int], tuple[Any, int]]


def _symbol(raw: bytes, index: int) -> tuple[Any, int]:
    return osc_types.get_string(raw, index)


def _blob(raw: bytes, index: int) -> tuple[bytes, int]:
    size, _ = osc_types.get_int(raw, index)
    if size < 0:
        raise UnreadableError("a blob has a negative size")
    return osc_types.get_blob(raw, index)


def _time_tag(raw: bytes, index: int) -> tuple[int, int]:
    return osc_types.get_uint64(raw, index)


_READERS: dict[str, _Reader] = {
    "i": osc_types.get_int,
    "h": osc_types.get_int64,
    "f": osc_types.get_float,
    "d": osc_types.get_double,
    "s": _symbol,
    "S": _symbol,
    "b": _blob,
    "t": _time_tag,
    "c": osc_types.get_int,
    "r": osc_types.get_int,
    "m": osc_types.get_int,
}
_WITHOUT_BYTES = {"T": True, "F": False, "N": None, "I": True}


def encode(message: Message) -> bytes:
    """Return the packet of one message; UnreadableError where an argument is not of its type."""
    try:
        return packet_of(message)
    except ValueError as error:
        raise UnreadableError(f"{message.address} cannot be sent: {error}") from None


def decode(packet: bytes) -> tuple[tuple[Message, ...], tuple[str, ...]]:
    """Return the messages of a packet in order, and what was wrong with those left out.

    Short packets are remembered: a host that is asked for its list tells the same over and over.
    """
    return _decode_again(packet) if len(packet) <= _SHORT else _decode(packet)


def _decode(packet: bytes) -> tuple[tuple[Message, ...], tuple[str, ...]]:
    parts = read_packet(packet)
    messages = tuple(part.message for part in parts if part.message is not None)
    return messages, tuple(part.fault.message for part in parts if part.fault is not None)


_decode_again = lru_cache(maxsize=8192)(_decode)


def read_packet(packet: bytes) -> list[Part]:
    """Return what a packet holds, in order: messages, and what could not be read.

    A message inside bundles stands under the latest of their time tags: the specification
    allows none inside that is earlier.
    """
    if not packet.startswith(_BUNDLE):
        return [_read(packet, IMMEDIATELY)]
    parts: list[Part] = []
    for found in _elements(packet):
        parts.append(found if isinstance(found, Part) else _read(*found))
        if len(parts) >= _MOST_MESSAGES:
            fault = UnreadableError(f"a bundle of {_MOST_MESSAGES} messages or more was cut there")
            parts.append(Part(raw=b"", fault=fault))
            break
    return parts


def _read(raw: bytes, tag: int) -> Part:
    try:
        return Part(raw=raw, message=_message(raw), tag=tag)
    except UnreadableError as error:
        return Part(raw=raw, fault=error, tag=tag)


def _elements(packet: bytes) -> Iterator[tuple[bytes, int] | Part]:
    """Walk through the messages of nested bundles, first to last, without recursion."""
    waiting: list[tuple[bytes, int, int] | Part] = [(packet, IMMEDIATELY, 0)]
    while waiting:
        found = waiting.pop()
        if isinstance(found, Part):
            yield found
            continue
        raw, tag, depth = found
        if not raw.startswith(_BUNDLE):
            yield raw, tag
        elif depth >= _DEEPEST:
            yield Part(raw=raw, fault=UnreadableError(f"bundles are nested more than {_DEEPEST} deep"))
        else:
            inner, tag, broken = _split(raw, tag)
            waiting.extend([broken] if broken else [])
            waiting.extend((element, tag, depth + 1) for element in reversed(inner))


def _split(bundle: bytes, outer: int) -> tuple[list[bytes], int, Part | None]:
    """Return a bundle's elements, the time tag they stand under, and the rest that is none."""
    found: list[bytes] = []
    if len(bundle) < _HEAD:
        return found, outer, Part(raw=bundle, fault=UnreadableError("a bundle is shorter than its time tag"))
    tag, index = max(outer, unpack_from(">Q", bundle, len(_BUNDLE))[0]), _HEAD
    while index < len(bundle):
        size = unpack_from(">i", bundle, index)[0] if index + 4 <= len(bundle) else -1
        start = index + 4
        if size <= 0 or size % 4 or start + size > len(bundle) or len(found) > _MOST_MESSAGES:
            fault = UnreadableError("a bundle holds an element of an impossible size")
            return found, tag, Part(raw=bundle[:_HEAD] + bundle[index:], fault=fault)
        found.append(bundle[start : start + size])
        index = start + size
    return found, tag, None


def _message(part: bytes) -> Message:
    try:
        address, index = osc_types.get_string(part, 0)
        if not address.startswith("/"):
            raise UnreadableError("an address does not begin with '/'")
        if part[index : index + 1] != b",":
            return Message(address)
        tags, index = osc_types.get_string(part, index)
        return Message(address, tags[1:], _arguments(part, tags[1:], index))
    except (osc_types.ParseError, ValueError, IndexError, OverflowError) as error:
        raise UnreadableError(f"a packet is no OSC message: {error}") from None


def _arguments(part: bytes, tags: str, index: int) -> tuple[Any, ...]:
    found: list[Any] = []
    for tag in tags:
        if tag in "[]":
            continue
        if tag in _WITHOUT_BYTES:
            found.append(_WITHOUT_BYTES[tag])
        elif tag in _READERS:
            if index >= len(part) or index < 0:
                raise UnreadableError("a message ends before its arguments do")
            value, index = _READERS[tag](part, index)
            found.append(value)
        else:
            raise UnknownTypeError(f"a message has the unknown type tag {tag!r} and was discarded")
    return tuple(found)
