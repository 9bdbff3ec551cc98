"""One message to every page that listens, as server-sent events; a page that does not read delays no other.

Each listener has room for one message: a newer one takes the older one's place, since each
tells the whole state.  One that has not taken a message for longer than the patience is cut
off and counted.  The format is that of the HTML standard, section "Server-sent events".
This file knows nothing about what the messages say.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from starlette.types import Receive, Scope, Send

from bridge.stage.connection import connection_of
from bridge.stage.limits import Limits, Refused

__all__ = ["Fan", "event"]

_HEADERS = [
    (b"content-type", b"text/event-stream; charset=utf-8"),
    (b"cache-control", b"no-store"),
    (b"x-accel-buffering", b"no"),
]


def event(kind: str, data: str) -> bytes:
    """Return one server-sent event; ``data`` has no line break."""
    return f"event: {kind}\ndata: {data}\n\n".encode()


class _Listener:
    """One page: the message that waits for it, and since when the one before has been on its way."""

    def __init__(self, cut: Callable[[], None]) -> None:
        self.cut = cut
        self.since: float | None = None
        self._waiting: bytes | None = None
        self._news = asyncio.Event()
        self._is_gone = False

    def put(self, message: bytes) -> None:
        self._waiting = message
        self._news.set()

    def leave(self) -> None:
        self._is_gone = True
        self._news.set()

    async def next(self) -> bytes | None:
        """Wait for the next message; None when the page has gone."""
        await self._news.wait()
        self._news.clear()
        message, self._waiting = self._waiting, None
        return None if self._is_gone else message


class Fan:
    """All pages that listen; an ASGI application that answers one of them for as long as it stays.

    ``first`` makes what a new page is told at once.
    """

    def __init__(
        self, first: Callable[[], bytes], *, now: Callable[[], float], limits: Limits, refused: Refused
    ) -> None:
        self._first = first
        self._now = now
        self._limits = limits
        self._refused = refused
        self._listeners: set[_Listener] = set()

    def __len__(self) -> int:
        return len(self._listeners)

    def tell(self, message: bytes) -> None:
        """Put ``message`` before every page; nobody is waited for."""
        for listener in self._listeners:
            listener.put(message)

    def cut_slow(self) -> None:
        """Cut off and count those who have not taken their message for too long."""
        before = self._now() - self._limits.patience_seconds
        for listener in tuple(self._listeners):
            if listener.since is not None and listener.since < before:
                self._refused.slow += 1
                self._listeners.discard(listener)
                listener.leave()
                listener.cut()

    def close(self) -> None:
        """Let all pages go."""
        for listener in self._listeners:
            listener.leave()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:  # noqa: ARG002
        """Answer one page until it goes."""
        connection = connection_of(scope)
        listener = _Listener(connection.abort)
        connection.when_lost(listener.leave)
        self._listeners.add(listener)
        try:
            await send({"type": "http.response.start", "status": 200, "headers": _HEADERS})
            listener.put(self._first())
            while (message := await listener.next()) is not None:
                listener.since = self._now()
                await send({"type": "http.response.body", "body": message, "more_body": True})
                listener.since = None
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        finally:
            self._listeners.discard(listener)
