"""A host's port that a running bridge holds, lent to another command: it hears and sends through it.

The bridge hands on what the host sends, and sends what it is given from its own port, so
that the host sees one and the same program.  To who uses it, it is a port like any other;
its packets have the time at which they came through.  This file knows nothing about what
they mean.
"""

from __future__ import annotations

import json
import select
import time
from collections import deque
from collections.abc import Callable, Container
from contextlib import suppress
from typing import Any

from bridge.errors import DeviceError, PeerError
from bridge.hostmap import Address
from bridge.live.asking import hello
from bridge.osc import Counts, Port
from bridge.osc.port import Packet
from bridge.store.running import Running, holder_of, running_bridges

__all__ = ["BorrowedPort", "open_port"]

_PATIENCE = 5.0
_PART = 65_536


def open_port(
    bind: Address,
    *,
    believe: str | Container[str] | None = None,
    borrow: bool = True,
    tell: Callable[[str], None] = lambda _: None,
) -> Port:
    """Open the UDP port ``bind``, or go through the running bridge that holds it; ``tell`` hears of that.

    DeviceError naming who holds it where that is no bridge of this user's, or without ``borrow``.
    """
    try:
        return Port(bind, believe=believe)
    except DeviceError as error:
        bridge = holder_of(str(bind), running_bridges())
        if bridge is None:
            raise
        held = DeviceError(
            f"the port {bind} cannot be opened: {bridge} has it",
            hint="See 'pulsebridge status'; 'pulsebridge stop' ends it.",
        )
        if not borrow:
            raise held from error
    try:
        port = BorrowedPort(bridge, believe=believe)
    except PeerError as refused:
        raise DeviceError(f"{held.message}, and does not lend it", hint=refused.message) from None
    tell(f"going through {bridge}, which has the port {bind}")
    return port


class BorrowedPort(Port):
    """The port of ``bridge``; PeerError where that does not lend it."""

    def __init__(self, bridge: Running, *, believe: str | Container[str] | None = None) -> None:
        self.counts = Counts()
        self._believe = frozenset({believe}) if isinstance(believe, str) else believe
        self._bridge = bridge
        self._socket = hello(bridge, ask="through")
        self._unread = b""
        self._packets: deque[Packet] = deque()
        try:
            self._place, self.buffer = self._greeting()
        except BaseException:
            self._socket.close()
            raise
        self._socket.setblocking(False)

    @property
    def place(self) -> tuple[str, int]:
        """The IP address and port that the bridge has."""
        return self._place

    def overflowed(self) -> int:
        """Return 0: what the system dropped, the bridge tells."""
        return 0

    def send_packet(self, packet: bytes, to: tuple[str, int]) -> None:
        """Have the bridge send bytes as they are; PeerError where it has gone."""
        line = json.dumps({"send": packet.hex(), "to": list(to)}).encode() + b"\n"
        self._socket.settimeout(_PATIENCE)
        try:
            self._socket.sendall(line)
        except OSError as error:
            raise self._gone(error) from None
        finally:
            self._socket.setblocking(False)

    def drain(self, most: int) -> list[Packet]:
        """Return the packets that are there already, in order; PeerError where the bridge has gone.

        All of them, even beyond ``most``: who waits for the socket would not be woken for the rest.
        """
        with suppress(BlockingIOError, InterruptedError):
            for _ in range(most):
                self._take(self._received())
        found = list(self._packets)
        self._packets.clear()
        return found

    def receive(self, timeout: float) -> list[Any]:
        """Wait at most ``timeout`` seconds for packets and return all that are there, in order."""
        with suppress(InterruptedError):
            select.select([self._socket], [], [], max(0.0, timeout))
        return [arrived for packet in self.drain(512) if (arrived := self._read(packet))]

    def _greeting(self) -> tuple[tuple[str, int], int]:
        while b"\n" not in self._unread:
            self._unread += self._received()
        line, _, self._unread = self._unread.partition(b"\n")
        said = json.loads(line)
        if "error" in said:
            raise PeerError(f"{self._bridge} does not lend it: {said['error'].get('message')}")
        host, number = said["place"]
        return (str(host), int(number)), int(said["buffer"])

    def _received(self) -> bytes:
        try:
            data = self._socket.recv(_PART)
        except (BlockingIOError, InterruptedError):
            raise
        except OSError as error:
            raise self._gone(error) from None
        if not data:
            raise self._gone(None)
        return data

    def _take(self, data: bytes) -> None:
        *lines, self._unread = (self._unread + data).split(b"\n")
        for line in lines:
            said = json.loads(line)
            if "packet" not in said:
                continue
            host, _, number = str(said["from"]).rpartition(":")
            self.counts.received += 1
            if self._believe is not None and host not in self._believe:
                self.counts.strangers += 1
                self.counts.stranger = host
                continue
            self._packets.append(Packet(time.monotonic(), bytes.fromhex(said["packet"]), (host, int(number))))

    def _gone(self, error: OSError | None) -> PeerError:
        why = "" if error is None else f": {error.strerror or error}"
        return PeerError(f"{self._bridge} has gone{why}", hint="Run the command again.")
