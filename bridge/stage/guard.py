"""What is asked of every request before anything answers it: the right host, the right origin, the method.

A page elsewhere could make a browser on this network ask for ours: its ``Origin`` gives it
away (RFC 6454, Fetch standard), and where it hides behind a name of its own that leads here,
the ``Host`` does.  Every answer carries a policy under which the page can load from here
alone (Content Security Policy Level 3).  This file knows nothing about what is asked for.
"""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterable
from ipaddress import IPv4Address, IPv6Address, ip_address

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from bridge.stage.limits import Refused

__all__ = ["Guard", "names_of_this_machine"]

_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types 'none'",
    )
)
_HEADERS = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
_ASKED_FROM_HERE = {"same-origin", "none"}


def names_of_this_machine() -> frozenset[str]:
    """Return the names under which people may reach this machine: localhost, its own, and that in .local."""
    own = socket.gethostname().lower()
    return frozenset({"localhost", own, f"{own.partition('.')[0]}.local"})


class Guard:
    """An ASGI middleware that refuses, and counts, what does not belong here."""

    def __init__(self, app: ASGIApp, *, names: Iterable[str], refused: Refused) -> None:
        self._app = app
        self._names = frozenset(names)
        self._refused = refused

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        why = self._why_not(scope)
        app: ASGIApp = self._app
        if why is not None:
            reason, status, text = why
            self._refused.count(reason)
            app = PlainTextResponse(text, status_code=status, headers={"connection": "close"})

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(_HEADERS)
            await send(message)

        try:
            await app(scope, receive, with_headers)
        except Exception as error:
            self._report(scope, error)
            raise

    def _why_not(self, scope: Scope) -> tuple[str, int, str] | None:
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self._is_ours(hosts[0], scope["server"]):
            return "host", 421, "This page is not known under that name. Use the address that was shown."
        origins = headers.getlist("origin")
        if any(origin.lower() != f"http://{hosts[0]}".lower() for origin in origins):
            return "origin", 403, "Another page may not ask for this one."
        if headers.get("sec-fetch-site", "none") not in _ASKED_FROM_HERE and not _is_a_link(headers):
            return "origin", 403, "Another page may not ask for this one."
        return None

    def _is_ours(self, host: str, server: tuple[str, int]) -> bool:
        name, _, port = (
            host.lower().rpartition(":") if host.rpartition(":")[2].isdigit() else (host, "", "80")
        )
        if port != str(server[1]):
            return False
        if name in self._names:
            return True
        try:
            return _plain(name.strip("[]")) == _plain(server[0].partition("%")[0])
        except ValueError:
            return False

    @staticmethod
    def _report(scope: Scope, error: Exception) -> None:
        asyncio.get_running_loop().call_exception_handler(
            {"message": f"the stage page could not answer {scope['path'][:80]!r}", "exception": error}
        )


def _plain(address: str) -> IPv4Address | IPv6Address:
    """Read an address; an IPv4 one that came in as IPv6 is itself (RFC 4291, 2.5.5.2)."""
    found = ip_address(address)
    return (found.ipv4_mapped or found) if found.version == 6 else found


def _is_a_link(headers: Headers) -> bool:
    """Tell whether somebody followed a link from elsewhere to the page itself: that gives nothing away."""
    return headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
