"""uvicorn on a running event loop: no signal handlers of its own, no ticking, no log of its own.

This file knows nothing about what is served.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
from collections.abc import Iterator

import uvicorn
from starlette.types import ASGIApp

from bridge.errors import DeviceError
from bridge.hostmap import Address
from bridge.stage.connection import Connection, Door

__all__ = ["Server", "bind"]

_MOST_WAITING = 64
"""Connections that the system keeps for us until they are taken."""


class _Config(uvicorn.Config):
    """uvicorn's settings, and the door that its connections come through."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        super().__init__(
            app,
            http=Connection,
            ws="none",
            lifespan="off",
            log_config=None,
            log_level="critical",
            access_log=False,
            proxy_headers=False,
            server_header=False,
            date_header=False,
            timeout_keep_alive=15,
            timeout_graceful_shutdown=1,
            h11_max_incomplete_event_size=door.limits.head_bytes,
        )
        self.door = door


class Server(uvicorn.Server):
    """Serves until it is told to end; the loop's other work goes on beside it."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        super().__init__(_Config(app, door))
        self._ends = asyncio.Event()
        self.is_up = asyncio.Event()

    def end(self) -> None:
        """Let :meth:`serve` come to its end."""
        self._ends.set()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave the signals to the bridge."""
        yield

    async def main_loop(self) -> None:
        """Wait for the end: the tick ten times a second is for what we do not use."""
        self.is_up.set()
        await self._ends.wait()


def bind(address: Address) -> socket.socket:
    """Open a port to listen on; DeviceError, saying why, where that cannot be."""
    try:
        family, kind, protocol, _, at = socket.getaddrinfo(
            address.host, address.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        port = socket.socket(family, kind, protocol)
        try:
            if os.name == "posix":  # elsewhere it would let two programs share the port
                port.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            port.bind(at)
            port.listen(_MOST_WAITING)
            port.setblocking(False)
        except OSError:
            port.close()
            raise
    except OSError as error:
        raise DeviceError(
            f"the stage page cannot be served on {address}: {error.strerror or error}",
            hint="--stage takes an address of this machine and a free port, as in 127.0.0.1:8080.",
        ) from None
    return port
