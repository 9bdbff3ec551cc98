"""One UDP socket that sends and receives, with what went wrong counted.

Bound to one address, so that a host sees us come from where it is to answer.  Windows
reports a closed port of the peer as ConnectionResetError on the next receive: that is
no fault of ours and not fatal.  This file knows nothing about what messages mean.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import sys
import time
from collections.abc import Container
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from bridge.errors import DeviceError, PeerError
from bridge.hostmap import Address, Message
from bridge.osc.codec import decode, encode
from bridge.osc.holder import holder_of_port
from bridge.osc.overflow import overflowed

__all__ = ["WANTED_BUFFER", "Arrived", "Counts", "Packet", "Port", "resolve"]

WANTED_BUFFER = 4 * 2**20
"""Bytes: the system's default holds a burst of some 256 small messages, and no more."""
_LARGEST = 65_536


@dataclass(slots=True)
class Counts:
    """What came in and did not count, for the user to see."""

    received: int = 0
    unreadable: int = 0
    unknown_types: int = 0
    """Messages discarded for a type tag that nobody here knows."""
    strangers: int = 0
    """Packets from other machines than the host's."""
    stranger: str | None = None
    """The last of those machines."""
    refused: int = 0
    """Answers that nobody listens at the host's port."""


@dataclass(frozen=True, slots=True)
class Arrived:
    """One packet: its messages, and who sent it."""

    messages: tuple[Message, ...]
    sender: tuple[str, int]


def resolve(address: Address) -> tuple[socket.AddressFamily, tuple[str, int]]:
    """Return the family, IP address and port of ``address``; PeerError when its name is unknown."""
    try:
        found = socket.getaddrinfo(address.host, address.port, type=socket.SOCK_DGRAM)
    except (OSError, UnicodeError) as error:
        raise PeerError(
            f"the address {str(address)!r} is not known: {error}",
            hint="Give an IP address, as in 127.0.0.1:9001.",
        ) from None
    family, _, _, _, place = min(found, key=lambda one: one[0] != socket.AF_INET)
    return family, (str(place[0]), int(place[1]))


@dataclass(frozen=True, slots=True)
class Packet:
    """One datagram: when it was taken (seconds of the steady clock), its bytes, who sent it."""

    at: float
    data: bytes
    sender: tuple[str, int]


class Port:
    """A bound UDP socket; use it in a ``with`` block."""

    def __init__(self, bind: Address, *, believe: str | Container[str] | None = None) -> None:
        """Bind; DeviceError naming who holds the port when it is taken.

        ``believe`` is the one IP address whose packets count, or what holds them; None: all.
        """
        self.counts = Counts()
        self._believe = frozenset({believe}) if isinstance(believe, str) else believe
        family, place = resolve(bind)
        self._socket = socket.socket(family, socket.SOCK_DGRAM)
        try:
            self._socket.bind(place)
        except OSError as error:
            self._socket.close()
            raise _refused(bind, error) from None
        self._socket.setblocking(False)
        self.buffer = self._ask_for_room()

    @property
    def place(self) -> tuple[str, int]:
        """The IP address and port it is bound to."""
        name = self._socket.getsockname()
        return str(name[0]), int(name[1])

    def overflowed(self) -> int:
        """Return how many packets the system dropped for want of room; 0 where it does not tell."""
        return overflowed(os.fstat(self._socket.fileno()).st_ino) if os.name == "posix" else 0

    def fileno(self) -> int:
        """Return the socket's number, so that ``select`` takes the port itself."""
        return self._socket.fileno()

    def send(self, message: Message, to: tuple[str, int]) -> None:
        """Send one message at once; PeerError when the network refuses it."""
        self.send_packet(encode(message), to)

    def send_packet(self, packet: bytes, to: tuple[str, int]) -> None:
        """Send bytes as they are; a full buffer is waited for, a closed port is counted."""
        for _ in range(3):
            try:
                self._socket.sendto(packet, to)
            except (ConnectionResetError, ConnectionRefusedError):
                self.counts.refused += 1
            except BlockingIOError:
                select.select([], [self._socket], [], 0.1)
                continue
            except OSError as error:
                raise PeerError(
                    f"nothing can be sent to {to[0]}:{to[1]}: {error.strerror or error}",
                    hint="Is the address right, and the network up?",
                ) from None
            return

    def receive(self, timeout: float) -> list[Arrived]:
        """Wait at most ``timeout`` seconds for packets and return all that are there, in order."""
        with contextlib.suppress(InterruptedError):
            select.select([self._socket], [], [], max(0.0, timeout))
        return [arrived for packet in self.drain(512) if (arrived := self._read(packet))]

    def drain(self, most: int) -> list[Packet]:
        """Return at most ``most`` packets that are there already, in order, strangers' left out."""
        found: list[Packet] = []
        for _ in range(most):
            try:
                data, sender = self._socket.recvfrom(_LARGEST)
            except (BlockingIOError, InterruptedError):
                break
            except (ConnectionResetError, ConnectionRefusedError):
                self.counts.refused += 1
                continue
            self.counts.received += 1
            if self._believe is not None and sender[0] not in self._believe:
                self.counts.strangers += 1
                self.counts.stranger = str(sender[0])
                continue
            found.append(Packet(time.monotonic(), data, (str(sender[0]), int(sender[1]))))
        return found

    def close(self) -> None:
        """Close the socket."""
        self._socket.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _read(self, packet: Packet) -> Arrived | None:
        messages, faults = decode(packet.data)
        self.counts.unreadable += len(faults)
        return Arrived(messages, packet.sender) if messages else None

    def _ask_for_room(self) -> int:
        """Ask for the buffer and return what was granted, in bytes.

        Linux tells twice what was granted, for its own bookkeeping (socket(7)).
        """
        with contextlib.suppress(OSError):
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, WANTED_BUFFER)
        told = self._socket.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)
        return told // 2 if sys.platform == "linux" else told


def _refused(bind: Address, error: OSError) -> DeviceError:
    import errno

    if error.errno in (errno.EADDRINUSE, errno.EACCES, getattr(errno, "WSAEADDRINUSE", -1)):
        holder = holder_of_port(bind.port)
        return DeviceError(
            f"the port {bind} cannot be opened: {holder or error.strerror or error}",
            hint="Stop that program, or give both sides another port (receive_on in the host map).",
        )
    return DeviceError(
        f"the address {bind} cannot be listened on: {error.strerror or error}",
        hint="receive_on names an address of this machine, most often 127.0.0.1:PORT.",
    )
