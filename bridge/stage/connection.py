"""One connection to the stage page: counted by its address, bounded, and cut off where it has to be.

Built on uvicorn's HTTP/1.1 protocol over h11, whose bounds on heads hold here too.  This
file knows nothing about requests.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections import Counter
from collections.abc import Callable
from typing import Any, cast

from starlette.types import Scope
from uvicorn.protocols.http.h11_impl import H11Protocol

from bridge.stage.limits import Limits, Refused

__all__ = ["Connection", "Door", "connection_of"]


class Door:
    """Who is in, by address; decides who else may come."""

    def __init__(self, limits: Limits, refused: Refused) -> None:
        self.limits = limits
        self.refused = refused
        self._inside: Counter[str] = Counter()

    def enter(self, address: str) -> bool:
        """Let one more in from ``address``; False, and counted, where that would be too many."""
        if self._inside.total() >= self.limits.connections or (
            self._inside[address] >= self.limits.per_address
        ):
            self.refused.count("connections")
            return False
        self._inside[address] += 1
        return True

    def leave(self, address: str) -> None:
        """Note that one from ``address`` has gone."""
        self._inside[address] -= 1
        if self._inside[address] <= 0:
            del self._inside[address]


class Connection(H11Protocol):
    """A connection that came through a door; made once for each by uvicorn.

    The door stands in ``config.door``, see :mod:`bridge.stage.server`.
    """

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._door = cast("Door", self.config.door)  # type: ignore[attr-defined]
        self._address: str | None = None
        self._patience: asyncio.TimerHandle | None = None
        self._when_lost: list[Callable[[], None]] = []
        self.app_state = {**self.app_state, "connection": self}

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take the connection, or cut it off where there are too many."""
        super().connection_made(transport)
        address = self.client[0] if self.client else ""
        if not self._door.enter(address):
            self.connections.discard(self)
            transport.abort()
            return
        self._address = address
        limits = self._door.limits
        transport.set_write_buffer_limits(high=limits.buffer_bytes)
        with contextlib.suppress(OSError):  # a bound that the system refuses is no fault: ours holds
            transport.get_extra_info("socket").setsockopt(
                socket.SOL_SOCKET, socket.SO_SNDBUF, limits.buffer_bytes
            )
        self._patience = self.loop.call_later(limits.request_seconds, self._too_late)

    def data_received(self, data: bytes) -> None:
        """Take what came in; nothing from one that was cut off."""
        if self._address is not None:
            super().data_received(data)
            if self.cycle is not None and self._patience is not None:
                self._patience.cancel()
                self._patience = None

    def connection_lost(self, exc: Exception | None) -> None:
        """Tell those who asked to know."""
        super().connection_lost(exc)
        if self._patience is not None:
            self._patience.cancel()
        if self._address is not None:
            self._door.leave(self._address)
            self._address = None
        for tell in self._when_lost:
            tell()

    def send_400_response(self, msg: str) -> None:
        """Refuse what is no HTTP request, or too long a head, and count it."""
        self._door.refused.count("request")
        super().send_400_response(msg)

    def when_lost(self, tell: Callable[[], None]) -> None:
        """Call ``tell`` once the connection has ended."""
        self._when_lost.append(tell)

    def abort(self) -> None:
        """Cut it off, whatever has not been sent yet."""
        self.transport.abort()

    def _too_late(self) -> None:
        self._door.refused.count("request")
        self.transport.abort()


def connection_of(scope: Scope) -> Connection:
    """Return the connection that a request came through."""
    return cast("Connection", scope["state"]["connection"])
