"""How other commands talk to a running bridge: JSON lines over a loopback TCP socket.

A question is one line, ``{"token": ..., "ask": "status"}`` and what it needs; its answers
are lines.  Who does not know the token, which stands in a file for the user's eyes alone,
is told nothing and cut off.  This file knows nothing about what is asked.
"""

from __future__ import annotations

import asyncio
import contextlib
import hmac
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError, PulsebridgeError

__all__ = ["Answer", "ControlSocket", "Wire"]

_LONGEST = 64 * 1024
_MOST_CLIENTS = 32
_PATIENCE = 5.0
"""Seconds in which a client has to say what it wants."""


class Wire:
    """One client's connection, after its question."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._reader = reader
        self._writer = writer

    def write(self, record: dict[str, Any]) -> bool:
        """Send one line; False where the client does not read and too much waits."""
        if self._writer.is_closing() or self._writer.transport.get_write_buffer_size() > 2**20:
            return False
        self._writer.write(json.dumps(record, default=str).encode() + b"\n")
        return True

    async def lines(self) -> AsyncIterator[dict[str, Any]]:
        """Walk through what else the client says, until it goes."""
        while True:
            record = await _record(self._reader)
            if record is None:
                return
            yield record


Answer = Callable[[dict[str, Any], Wire], Awaitable[None]]
"""Answers a question; PulsebridgeError is told to who asked."""


class ControlSocket:
    """Answer questions while an ``async with`` block runs; :attr:`place` is where."""

    def __init__(self, token: str, answer: Answer) -> None:
        self._token = token
        self._answer = answer
        self._server: asyncio.Server | None = None
        self._clients: set[asyncio.Task[None]] = set()
        self.refused = 0
        self.place = ("127.0.0.1", 0)

    async def __aenter__(self) -> Self:
        try:
            self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0, limit=_LONGEST)
        except OSError as error:
            raise DeviceError(
                f"no port can be opened on this machine: {error}", hint="Is 127.0.0.1 up?"
            ) from None
        name = self._server.sockets[0].getsockname()
        self.place = str(name[0]), int(name[1])
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._server is not None:
            self._server.close()
        for client in self._clients:
            client.cancel()
        await asyncio.gather(*self._clients, return_exceptions=True)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None  # noqa: S101  the server runs us in one
        if len(self._clients) >= _MOST_CLIENTS:
            writer.close()
            return
        self._clients.add(task)
        try:
            with contextlib.suppress(OSError, asyncio.CancelledError):  # it, or we, went away
                await self._converse(reader, writer)
        finally:
            self._clients.discard(task)
            writer.close()

    async def _converse(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        wire = Wire(reader, writer)
        try:
            question = await asyncio.wait_for(_record(reader), _PATIENCE)
        except TimeoutError:
            return
        if question is None or not self._knows_token(question):
            self.refused += 1
            return
        try:
            await self._answer(question, wire)
        except PulsebridgeError as error:
            text = error.message if error.hint is None else f"{error.message}\n{error.hint}"
            wire.write({"error": {"kind": error.kind, "message": text}})
        await writer.drain()

    def _knows_token(self, question: dict[str, Any]) -> bool:
        given = question.pop("token", None)
        return isinstance(given, str) and hmac.compare_digest(given.encode(), self._token.encode())


async def _record(reader: asyncio.StreamReader) -> dict[str, Any] | None:
    """Return the next line as a record; None at the end, or where it is none."""
    try:
        line = await reader.readline()
        found = json.loads(line) if line else None
    except (ValueError, asyncio.LimitOverrunError):
        return None
    return found if isinstance(found, dict) else None
