"""One message to its bytes, for every type tag of OSC 1.0; messages to a bundle with its time tag.

https://opensoundcontrol.stanford.edu/spec-1_0.html: big-endian, everything filled up to a
multiple of four bytes.  This file knows nothing about clocks or sockets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from struct import error as struct_error
from struct import pack
from typing import Any

from bridge.hostmap import Message

__all__ = ["bundle_of", "packet_of"]

_WITHOUT_BYTES = "TFNI[]"
_MARKS = "[]"


def packet_of(message: Message) -> bytes:
    """Return the packet; ValueError where an argument is not of its type."""
    args = iter(message.args)
    data = [_text(message.address), _text("," + message.types)]
    for tag in message.types:
        if tag in _MARKS:
            continue
        arg = next(args, args)
        if arg is args:
            raise ValueError("there are fewer arguments than types")
        if tag in _WITHOUT_BYTES:
            continue
        if tag not in _WRITERS:
            raise ValueError(f"the type {tag!r} is not known")
        data.append(_written(tag, arg))
    if next(args, message) is not message:
        raise ValueError("there are more arguments than types")
    return b"".join(data)


def bundle_of(packets: Iterable[bytes], tag: int) -> bytes:
    """Return the bundle of ``packets``, each a message or a bundle, under the time tag ``tag``."""
    elements = b"".join(pack(">i", len(packet)) + packet for packet in packets)
    return b"#bundle\x00" + pack(">Q", tag) + elements


def _written(tag: str, arg: Any) -> bytes:
    try:
        return _WRITERS[tag](arg)
    except (struct_error, TypeError, AttributeError, OverflowError) as error:
        raise ValueError(f"{arg!r} cannot be sent as {tag}: {error}") from None


def _text(text: str) -> bytes:
    raw = text.encode("utf-8")
    return raw + bytes(4 - len(raw) % 4)


def _blob(raw: bytes) -> bytes:
    return pack(">i", len(raw)) + bytes(raw) + bytes(-len(raw) % 4)


def _number(format_: str) -> Callable[[Any], bytes]:
    return lambda arg: pack(format_, arg)


_WRITERS: dict[str, Callable[[Any], bytes]] = {
    "i": _number(">i"),
    "h": _number(">q"),
    "f": _number(">f"),
    "d": _number(">d"),
    "s": _text,
    "S": _text,
    "b": _blob,
    "t": _number(">Q"),
    "c": _number(">i"),
    "r": _number(">i"),
    "m": _number(">i"),
}
