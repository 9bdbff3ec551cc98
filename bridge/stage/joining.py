"""How people get to the page: its addresses, and the QR codes that lead there.

The code is that of ISO/IEC 18004, by the library segno.  This file knows nothing about
what is served.
"""

from __future__ import annotations

import io
import socket
from ipaddress import ip_address
from itertools import zip_longest
from urllib.parse import quote

import segno

__all__ = ["address_of", "code_in_text", "code_svg", "is_loopback", "own_address"]

_HALVES = {(True, True): "█", (True, False): "▀", (False, True): "▄", (False, False): " "}
_DOCUMENTATION = ("192.0.2.1", 9)
"""An address that nobody has (RFC 5737): asking for the way there sends nothing."""


def is_loopback(bound: str) -> bool:
    """Tell whether only this machine itself reaches ``bound``."""
    return ip_address(bound.partition("%")[0]).is_loopback


def own_address(bound: str) -> str:
    """Return the address that others reach ``bound`` by: itself, or this machine's where it means all."""
    if not ip_address(bound.partition("%")[0]).is_unspecified:
        return bound
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(_DOCUMENTATION)
            return str(asking.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def address_of(host: str, port: int, *, token: str | None = None) -> str:
    """Return the page's address; with ``token`` the one that allows control, in the part never sent."""
    name = f"[{host}]" if ":" in host else host
    return f"http://{name}:{port}/" + (f"#token={quote(token, safe='')}" if token else "")


def code_in_text(address: str) -> str:
    """Return the code of ``address`` in block characters, two rows a line, for a dark terminal.

    What is drawn is its light part, with a margin of two (a light terminal shows it the other
    way round, which most readers take as well).
    """
    rows = [[not dark for dark in row] for row in segno.make_qr(address, error="m").matrix_iter(border=2)]
    pairs = zip_longest(rows[::2], rows[1::2], fillvalue=[True] * len(rows[0]))
    return "\n".join(
        "".join(_HALVES[above, below] for above, below in zip(upper, lower, strict=True))
        for upper, lower in pairs
    )


def code_svg(address: str) -> bytes:
    """Return the code of ``address`` as a picture, dark on light whatever the page's colours are."""
    out = io.BytesIO()
    segno.make_qr(address, error="m").save(
        out, kind="svg", scale=4, border=4, dark="#000", light="#fff", omitsize=True, title=address
    )
    return out.getvalue()
