"""The stage page, served: on the running event loop, from what the show looks like.

It is told when something may have changed and looks itself once a second; pages are sent
only what they could not foresee.  The song's description is worked out between other
things, section by section.  This file knows nothing about transports or cues.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import json
import time
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from bridge.hostmap import Address
from bridge.hostmap.load import read_address
from bridge.show import Control, View
from bridge.song import Song
from bridge.stage.asking import Asking
from bridge.stage.connection import Door
from bridge.stage.description import described
from bridge.stage.fan import Fan, event
from bridge.stage.files import Files
from bridge.stage.guard import Guard, names_of_this_machine
from bridge.stage.joining import address_of, code_in_text, code_svg, is_loopback, own_address
from bridge.stage.limits import Limits, Refused
from bridge.stage.server import Server, bind
from bridge.stage.state import foreseen, stated

__all__ = ["Stage"]

_BEAT_SECONDS = 1.0
"""Between two looks at the show where nothing is told; a page that has no word for more than two says so."""
_LEAST_SECONDS = 0.05
"""Between two messages."""


class Stage:
    """The page, for as long as an ``async with`` block runs.

    ``view`` tells how the show looks now; ``control`` performs what a page with the token asks
    for, and raises PulsebridgeError where it cannot.  ``now`` is the clock of ``View.at``.
    Opening raises DeviceError where ``listen`` (HOST:PORT) cannot be listened on.
    """

    def __init__(
        self,
        *,
        view: Callable[[], View],
        control: Callable[[Control], object] | None = None,
        listen: str,
        token: str | None = None,
        now: Callable[[], float] = time.monotonic,
        limits: Limits | None = None,
    ) -> None:
        self._listen: Address = read_address(listen, least=0)
        self._view = view
        self._now = now
        self._token = token if control is not None else None
        self.refused = Refused()
        limits = limits or Limits()
        self._fan = Fan(self._message, now=time.monotonic, limits=limits, refused=self.refused)
        self._asking = Asking(control, token=token, limits=limits, refused=self.refused)
        self._door = Door(limits, self.refused)
        self._files = Files()
        self._changed = asyncio.Event()
        self._told: View | None = None
        self._song: Song | None = None
        self._key = ""
        self._last = b""
        self._songs: dict[str, bytes] = {}

    @property
    def address(self) -> str:
        """The address for everybody; it allows no control."""
        return address_of(own_address(self._bound[0]), self._bound[1])

    @property
    def control_address(self) -> str | None:
        """The address that allows control; None where nothing does."""
        if self._token is None:
            return None
        return address_of(own_address(self._bound[0]), self._bound[1], token=self._token)

    @property
    def watching(self) -> int:
        """How many pages listen."""
        return len(self._fan)

    def as_record(self) -> dict[str, Any]:
        """Return how the page stands, as JSON can hold it: where, for how many, and what was refused."""
        return {
            "address": self.address,
            "watching": self.watching,
            "refused": self.refused.as_record(),
        }

    def code(self) -> str:
        """Return the QR code of :attr:`address` for a terminal."""
        return code_in_text(self.address)

    def changed(self) -> None:
        """Say that the show may look otherwise than could be foreseen; costs next to nothing."""
        self._changed.set()

    async def __aenter__(self) -> Self:
        await self._learn_song()
        port = bind(self._listen)
        self._bound: tuple[str, int] = port.getsockname()[:2]
        self._server = Server(self._app(), self._door)
        self._serving = asyncio.create_task(self._server.serve(sockets=[port]))
        self._telling = asyncio.create_task(self._tell())
        self._telling.add_done_callback(_report)
        await self._server.is_up.wait()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._telling.cancel()
        self._fan.close()
        self._server.end()
        await self._serving
        with contextlib.suppress(asyncio.CancelledError):
            await self._telling

    def _app(self) -> Guard:
        routes = [
            Route("/", self._page),
            Route("/page/{name}", self._page),
            Route("/state", self._fan, methods=["GET"]),
            Route("/song/{key}", self._describe),
            Route("/clock", self._clock),
            Route("/join.svg", self._join),
            Route("/join.json", self._join_words),
            Route("/control", self._asking.answer, methods=["POST"]),
        ]
        return Guard(Starlette(routes=routes), names=names_of_this_machine(), refused=self.refused)

    async def _page(self, request: Request) -> Response:
        return self._files.answer(request.path_params.get("name", "index.html"), request)

    async def _describe(self, request: Request) -> Response:
        found = self._songs.get(request.path_params["key"])
        if found is None:
            return Response("That song is not played any more.", status_code=404, media_type="text/plain")
        return Response(
            found, media_type="application/json", headers={"cache-control": "max-age=86400, immutable"}
        )

    async def _clock(self, request: Request) -> Response:  # noqa: ARG002
        return JSONResponse({"now": self._now()}, headers={"cache-control": "no-store"})

    async def _join_words(self, request: Request) -> Response:  # noqa: ARG002
        told = {"address": self.address, "is_open": not is_loopback(self._bound[0])}
        return JSONResponse(told, headers={"cache-control": "no-store"})

    async def _join(self, request: Request) -> Response:  # noqa: ARG002
        return Response(
            code_svg(self.address), media_type="image/svg+xml", headers={"cache-control": "no-store"}
        )

    async def _tell(self) -> None:
        """Tell the pages of what they could not foresee, and once a second in any case."""
        told_at = time.monotonic()
        while True:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(told_at + _BEAT_SECONDS - time.monotonic()):
                    await self._changed.wait()
            self._changed.clear()
            await self._learn_song()
            is_due = time.monotonic() >= told_at + _BEAT_SECONDS
            if is_due or not foreseen(self._told, self._view()):
                told_at = time.monotonic()
                self._fan.tell(self._message())
            self._fan.cut_slow()
            await asyncio.sleep(_LEAST_SECONDS)

    def _message(self) -> bytes:
        """Return how the show looks; as it looked last while a new song is not described yet."""
        view = self._view()
        if view.song is self._song:
            self._told = view
            self._last = event("state", _json(stated(view, self._key)))
        return self._last

    async def _learn_song(self) -> None:
        """Describe the song that is played, if it is another one than before; keep the last one too."""
        song = self._view().song
        if song is self._song:
            return
        head: dict[str, Any] = {}
        sections: list[dict[str, Any]] = []
        for piece in described(song):
            if head:
                sections.append(piece)
            else:
                head = piece
            await asyncio.sleep(0)
        text = _json({**head, "sections": sections}).encode()
        self._key = hashlib.sha256(text).hexdigest()[:16]
        self._songs = {**dict(list(self._songs.items())[-1:]), self._key: text}
        self._song = song


def _json(record: dict[str, Any]) -> str:
    return json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _report(task: asyncio.Task[None]) -> None:
    """Make known that nothing is told any more, where that is not the end."""
    if not task.cancelled() and (error := task.exception()) is not None:
        task.get_loop().call_exception_handler(
            {"message": "the stage page hears nothing any more", "exception": error}
        )
