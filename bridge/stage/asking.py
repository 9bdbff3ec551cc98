"""What the page asks of the show: read, held against the token, and handed on.

The token comes in the ``Authorization`` header (RFC 6750), which no other site's page can
send along; it is compared in constant time.  This file knows nothing about what a control does.
"""

from __future__ import annotations

import hmac
import json
from collections.abc import Callable

from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

from bridge.errors import PulsebridgeError, UsageError
from bridge.show import Control, control
from bridge.stage.limits import Limits, Refused

__all__ = ["Asking"]


class Asking:
    """Answers ``POST /control``: ``{"do": "release", "name": "hand drum"}``."""

    def __init__(
        self,
        perform: Callable[[Control], object] | None,
        *,
        token: str | None,
        limits: Limits,
        refused: Refused,
    ) -> None:
        self._perform = perform if token else None
        self._token = (token or "").encode()
        self._limits = limits
        self._refused = refused

    async def answer(self, request: Request) -> Response:
        """Perform what is asked, or say why not."""
        if self._perform is None:
            return self._no("token", 403, "This page can only be read.")
        if not self._is_allowed(request):
            return self._no("token", 401, "The word that allows control is missing or wrong.")
        try:
            body = await self._body(request)
        except ClientDisconnect:
            return Response(status_code=400)
        if body is None:
            return self._no("size", 413, "That is too much to ask at once.")
        try:
            self._perform(_asked(body))
        except PulsebridgeError as error:
            return JSONResponse({"error": str(error)}, status_code=409)
        return JSONResponse({"done": True})

    def _is_allowed(self, request: Request) -> bool:
        scheme, _, given = request.headers.get("authorization", "").partition(" ")
        is_right = hmac.compare_digest(given.encode(), self._token)
        return is_right and scheme.lower() == "bearer"

    async def _body(self, request: Request) -> bytes | None:
        """Read the body; None, and nothing kept, where it is larger than the limit."""
        most = self._limits.body_bytes
        told = request.headers.get("content-length", "0")
        if not told.isdecimal() or int(told[:12]) > most:
            return None
        body = bytearray()
        async for part in request.stream():
            body += part
            if len(body) > most:
                return None
        return bytes(body)

    def _no(self, reason: str, status: int, text: str) -> Response:
        self._refused.count(reason)
        return JSONResponse({"error": text}, status_code=status, headers={"connection": "close"})


def _asked(body: bytes) -> Control:
    """Read what is asked; UsageError for anything but one of the controls."""
    try:
        found = json.loads(body)
    except (ValueError, RecursionError):
        raise UsageError("what is asked is no JSON") from None
    if not isinstance(found, dict) or not set(found) <= {"do", "name"}:
        raise UsageError("what is asked is an object with 'do' and perhaps 'name'")
    do, name = found.get("do"), found.get("name")
    if not isinstance(do, str) or not (name is None or isinstance(name, str)):
        raise UsageError("'do' and 'name' are text")
    return control(do) if name is None else control(do, name)
