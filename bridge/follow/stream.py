"""Whole MIDI messages out of a stream of bytes, however it was cut.

Source: MIDI 1.0 detailed specification 4.2: real-time bytes may fall anywhere, inside
other messages too; a channel status stays in force (running status); a system common
or exclusive message ends it.  This file does not know what any message means.
"""

from __future__ import annotations

from bridge.follow.messages import message_length

__all__ = ["Stream"]

_LONGEST = 65536
"""An exclusive message longer than this is given up: a broken or hostile sender."""


class Stream:
    """Bytes in, whole messages out, in the order in which they became whole."""

    __slots__ = ("_part", "_running", "dropped")

    def __init__(self) -> None:
        self._part = bytearray()
        self._running = 0
        self.dropped = 0
        """How many bytes belonged to no whole message."""

    def feed(self, data: bytes) -> list[bytes]:
        """Take the next bytes; return the messages that they complete."""
        whole: list[bytes] = []
        for byte in data:
            if byte >= 0xF8:
                whole.append(bytes((byte,)))
            elif (message := self._take(byte)) is not None:
                whole.append(message)
        return whole

    def _take(self, byte: int) -> bytes | None:
        if byte == 0xF7 and self._part[:1] == b"\xf0":
            return self._finish(byte)
        if byte >= 0x80:
            return self._begin(byte)
        if not self._part:
            if not self._running:
                self.dropped += 1
                return None
            self._part.append(self._running)
        if len(self._part) >= _LONGEST:
            self._drop()
            return None
        if self._part[0] != 0xF0 and len(self._part) + 1 == message_length(self._part[0]):
            return self._finish(byte)
        self._part.append(byte)
        return None

    def _begin(self, status: int) -> bytes | None:
        self._drop()
        self._running = status if status < 0xF0 else 0
        if status == 0xF7:
            self.dropped += 1
            return None
        self._part.append(status)
        if status != 0xF0 and message_length(status) == 1:
            whole = bytes(self._part)
            self._part.clear()
            return whole
        return None

    def _finish(self, byte: int) -> bytes:
        whole = bytes(self._part) + bytes((byte,))
        self._part.clear()
        return whole

    def _drop(self) -> None:
        self.dropped += len(self._part)
        self._part.clear()
