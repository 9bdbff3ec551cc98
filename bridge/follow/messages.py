"""The MIDI messages that say where the host is, as one table: reader and writer come from it.

Sources: MIDI 1.0 detailed specification 4.2 (system common and real time); MIDI Time
Code (RP-004/RP-008).  Whole messages only: :mod:`bridge.follow.stream` makes them of
bytes.  This file does not know what a message means for the transport.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

from bridge.errors import PeerError

__all__ = [
    "Clock",
    "Continue",
    "FullFrame",
    "Message",
    "QuarterFrame",
    "SongPosition",
    "Start",
    "Stop",
    "message_length",
    "read",
    "write",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """One of 24 in a quarter note."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Place 0; playing begins at the next clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Continue:
    """The remembered place; playing begins at the next clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Playing ends; the place is remembered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SongPosition:
    """The place of the next clock, in sixteenths, 0 to 16383."""

    sixteenths: int


@dataclass(frozen=True, slots=True, kw_only=True)
class QuarterFrame:
    """One eighth of a time code: which piece (0 to 7) and its four bits."""

    piece: int
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FullFrame:
    """A whole time code at once; ``rate`` 0: 24, 1: 25, 2: 30 drop, 3: 30 frames a second."""

    rate: int
    hours: int
    minutes: int
    seconds: int
    frames: int
    device: int = 0x7F


Message = Clock | Start | Continue | Stop | SongPosition | QuarterFrame | FullFrame


@dataclass(frozen=True, slots=True)
class _Bits:
    """``width`` bits from bit ``low`` of byte ``byte``: bits ``weight`` and up of ``field``."""

    field: str
    byte: int
    width: int
    low: int = 0
    weight: int = 0

    @property
    def mask(self) -> int:
        return (1 << self.width) - 1


@dataclass(frozen=True, slots=True)
class _Form:
    """One row: the kind, its bytes with all fields 0, and where the fields' bits stand."""

    kind: type[Message]
    blank: bytes
    bits: tuple[_Bits, ...] = ()

    def fits(self, data: bytes) -> bool:
        """Tell whether every bit outside the fields is as it has to be."""
        if len(data) != len(self.blank):
            return False
        bare = bytearray(data)
        for bits in self.bits:
            bare[bits.byte] &= ~(bits.mask << bits.low)
        return bytes(bare) == self.blank


_TABLE = (
    _Form(Clock, b"\xf8"),
    _Form(Start, b"\xfa"),
    _Form(Continue, b"\xfb"),
    _Form(Stop, b"\xfc"),
    _Form(SongPosition, b"\xf2\0\0", (_Bits("sixteenths", 1, 7), _Bits("sixteenths", 2, 7, weight=7))),
    _Form(QuarterFrame, b"\xf1\0", (_Bits("piece", 1, 3, low=4), _Bits("value", 1, 4))),
    _Form(
        FullFrame,
        b"\xf0\x7f\0\x01\x01\0\0\0\0\xf7",
        (
            _Bits("device", 2, 7),
            _Bits("rate", 5, 2, low=5),
            _Bits("hours", 5, 5),
            _Bits("minutes", 6, 7),
            _Bits("seconds", 7, 7),
            _Bits("frames", 8, 7),
        ),
    ),
)
_BY_KIND = {form.kind: form for form in _TABLE}
_LENGTHS = {0xF1: 2, 0xF2: 3, 0xF3: 2, 0xC: 2, 0xD: 2}


def read(data: bytes) -> Message | None:
    """Read one whole message; None when it is a good one that says nothing of the transport.

    PeerError when it is no whole MIDI message: empty, cut short, too long, or data
    bytes with their highest bit set.
    """
    for form in _TABLE:
        if form.fits(data):
            return form.kind(**_values(form, data))
    _refuse_broken(data)
    return None


def write(message: Message) -> bytes:
    """Write ``message`` as its bytes; ValueError when a field does not fit its bits."""
    form = _BY_KIND[type(message)]
    data = bytearray(form.blank)
    rest = {field.name: getattr(message, field.name) for field in fields(message)}
    for bits in form.bits:
        value = getattr(message, bits.field)
        data[bits.byte] |= ((value >> bits.weight) & bits.mask) << bits.low
        rest[bits.field] -= value & (bits.mask << bits.weight)
    if too_large := [name for name, value in rest.items() if value]:
        raise ValueError(f"{type(message).__name__}: {', '.join(too_large)} outside the bits it has")
    return bytes(data)


def _values(form: _Form, data: bytes) -> dict[str, int]:
    values: dict[str, int] = {}
    for bits in form.bits:
        part = (data[bits.byte] >> bits.low & bits.mask) << bits.weight
        values[bits.field] = values.get(bits.field, 0) | part
    return values


def _refuse_broken(data: bytes) -> None:
    if not data or data[0] < 0x80:
        found = "is empty" if not data else f"begins with the data byte {data[0]:02X}"
        raise PeerError(f"a MIDI message begins with a status byte (80 to FF); this one {found}")
    if data[0] == 0xF0:
        whole, body = data[-1] == 0xF7 and len(data) >= 2, data[1:-1]
    else:
        whole, body = len(data) == message_length(data[0]), data[1:]
    if not whole or any(byte > 0x7F for byte in body):
        shown = data[:12].hex(" ").upper() + (" ..." if len(data) > 12 else "")
        raise PeerError(
            f"not one whole MIDI message: {shown}", hint="Give each message by itself and complete."
        )


def message_length(status: int) -> int:
    """Return the bytes of a message that begins with ``status``, F0 apart."""
    if status >= 0xF4:
        return 1
    return _LENGTHS.get(status if status >= 0xF0 else status >> 4, 3)
