"""OSC messages to bytes and back, by OSC 1.0, with python-osc's readers of single values.

https://opensoundcontrol.stanford.edu/spec-1_0.html.  Three things are done here and not
left to the library: a message with an unknown type tag is discarded, as the specification
says, instead of having its later arguments shifted; a bundle's element sizes are checked,
since a negative one would loop for ever; and every fault becomes one error.  A message
without a type tag string is taken without its arguments, which cannot be read.  Time tags
of bundles are passed over: every message counts as arriving now.  This file knows nothing
about sockets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from struct import unpack_from
from typing import Any

from pythonosc.osc_message_builder import BuildError, OscMessageBuilder
from pythonosc.parsing import osc_types

from bridge.errors import PeerError
from bridge.hostmap import Message

__all__ = ["UnreadableError", "decode", "encode"]

_BUNDLE = b"#bundle\x00"
_DEEPEST = 8
_MOST_MESSAGES = 4096
_HEAD = len(_BUNDLE) + 8


class UnreadableError(PeerError):
    """A packet that is no OSC, or a message whose types are not known."""


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
    """Return the packet of one message with the types i h f d s b T F N."""
    builder = OscMessageBuilder(address=message.address)
    for tag, arg in zip(message.types, message.args, strict=True):
        builder.add_arg(arg, tag)
    try:
        return builder.build().dgram
    except BuildError as error:
        raise UnreadableError(f"{message.address} cannot be sent: {error}") from None


def decode(packet: bytes) -> tuple[tuple[Message, ...], tuple[str, ...]]:
    """Return the messages of a packet in order, and what was wrong with those left out."""
    messages: list[Message] = []
    faults: list[str] = []
    for part in _elements(packet, faults):
        try:
            messages.append(_message(part))
        except UnreadableError as error:
            faults.append(error.message)
        if len(messages) + len(faults) > _MOST_MESSAGES:
            faults.append(f"a bundle of more than {_MOST_MESSAGES} messages was cut there")
            break
    return tuple(messages), tuple(faults)


def _elements(packet: bytes, faults: list[str]) -> Iterator[bytes]:
    """Walk through the messages of nested bundles, first to last, without recursion."""
    waiting: list[tuple[bytes, int]] = [(packet, 0)]
    while waiting:
        part, depth = waiting.pop()
        if not part.startswith(_BUNDLE):
            yield part
        elif depth >= _DEEPEST:
            faults.append(f"bundles are nested more than {_DEEPEST} deep")
        else:
            inner, fault = _split(part)
            if fault:
                faults.append(fault)
            waiting.extend((element, depth + 1) for element in reversed(inner))


def _split(bundle: bytes) -> tuple[list[bytes], str | None]:
    found: list[bytes] = []
    index = _HEAD
    if len(bundle) < _HEAD:
        return found, "a bundle is shorter than its time tag"
    while index < len(bundle):
        size = unpack_from(">i", bundle, index)[0] if index + 4 <= len(bundle) else -1
        index += 4
        if size <= 0 or size % 4 or index + size > len(bundle) or len(found) >= _MOST_MESSAGES:
            return found, "a bundle holds an element of an impossible size"
        found.append(bundle[index : index + size])
        index += size
    return found, None


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
            raise UnreadableError(f"a message has the unknown type tag {tag!r} and was discarded")
    return tuple(found)
