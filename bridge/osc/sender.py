"""What goes out to those who take cues: to several addresses, what cannot be sent counted.

A receiver that is sent to ahead of time gets a bundle whose time tag says when it is due,
so that it can be exact (OSC 1.0, Temporal Semantics and OSC Time Tags).  One that is not
gets plain messages: what is due now needs no tag, and the simplest receivers read no
bundles.  Broadcast addresses are allowed.  This file knows nothing about what is sent.
"""

from __future__ import annotations

import contextlib
import socket
from dataclasses import dataclass, field
from fractions import Fraction
from types import TracebackType
from typing import Self

from bridge.errors import PlanError, UsageError
from bridge.exact import parse_seconds
from bridge.hostmap import Address
from bridge.hostmap.load import read_address
from bridge.osc.held import time_tag
from bridge.osc.port import resolve
from bridge.osc.writing import bundle_of

__all__ = ["MOST_AHEAD", "Destination", "Receiver", "Sender"]

MOST_AHEAD = 1
"""Seconds: beyond it a hold that was pressed comes too late."""
_HINT = "Write HOST:PORT, as in 127.0.0.1:9020, or HOST:PORT@AHEAD, as in 192.168.1.20:9020@40ms."


@dataclass(frozen=True, slots=True, kw_only=True)
class Destination:
    """An address that takes cues, and how many seconds before they are due they are sent there."""

    address: Address
    ahead: float = 0.0
    bundles: bool = True
    """Whether what is sent ahead carries its time."""

    @classmethod
    def parse(cls, text: str, *, ahead: float = 0.0, bundles: bool = True) -> Destination:
        """Read ``HOST:PORT`` or ``HOST:PORT@AHEAD``; UsageError for anything else."""
        place, at, early = text.strip().partition("@")
        try:
            address = read_address(place, least=1)
            ahead = _seconds(early) if at else ahead
        except PlanError as error:
            raise UsageError(f"cues cannot go to {text[:80]!r}: {error.message}", hint=_HINT) from None
        return cls(address=address, ahead=ahead, bundles=bundles)


def _seconds(text: str) -> float:
    seconds: Fraction = parse_seconds(text, what="how far ahead", zero=True).value
    if seconds > MOST_AHEAD:
        raise PlanError(f"at most {MOST_AHEAD} s ahead, not {text[:40]}")
    return float(seconds)


@dataclass(slots=True)
class Receiver:
    """A destination while the bridge runs: where it is, and how it went."""

    destination: Destination
    place: tuple[str, int]
    socket: socket.socket
    sent: int = 0
    failed: int = 0
    error: str | None = None
    """What the last failure was."""

    @property
    def ahead(self) -> float:
        """Seconds."""
        return self.destination.ahead

    def __str__(self) -> str:
        return str(self.destination.address)


@dataclass(slots=True)
class Sender:
    """Sends to all ``destinations`` while a ``with`` block runs.

    Entering raises PeerError when the name of one is not known.
    """

    destinations: tuple[Destination, ...]
    receivers: tuple[Receiver, ...] = ()
    _stack: contextlib.ExitStack = field(default_factory=contextlib.ExitStack)

    def __enter__(self) -> Self:
        sockets: dict[socket.AddressFamily, socket.socket] = {}
        with contextlib.ExitStack() as stack:
            found = []
            for destination in self.destinations:
                family, place = resolve(destination.address)
                if family not in sockets:
                    sockets[family] = stack.enter_context(_opened(family))
                found.append(Receiver(destination, place, sockets[family]))
            self.receivers, self._stack = tuple(found), stack.pop_all()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stack.close()

    def send(self, receiver: Receiver, packet: bytes, *, wall: float) -> bool:
        """Send ``packet``, an encoded message that is due at ``wall`` seconds since 1970.

        False, and counted, where the system refuses it; never an error.
        """
        destination = receiver.destination
        if destination.ahead and destination.bundles:
            packet = bundle_of([packet], time_tag(wall))
        try:
            receiver.socket.sendto(packet, receiver.place)
        except OSError as error:
            receiver.failed += 1
            receiver.error = error.strerror or str(error)
            return False
        receiver.sent += 1
        return True


def _opened(family: socket.AddressFamily) -> socket.socket:
    opened = socket.socket(family, socket.SOCK_DGRAM)
    opened.setblocking(False)
    with contextlib.suppress(OSError):
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
    return opened
