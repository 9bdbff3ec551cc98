"""Talking to the stage page's server without a browser, byte by byte where that matters."""

from __future__ import annotations

import http.client
import json
import socket
from collections.abc import Iterator
from typing import Any


def ask(port: int, path: str, *, method: str = "GET", body: bytes | None = None, **headers: str) -> Any:
    """Send one request; return its status, its headers and its body."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        line.request(method, path, body=body, headers=named)
        answer = line.getresponse()
        return answer.status, answer.headers, answer.read()
    finally:
        line.close()


def ask_control(port: int, what: object, token: str | None, **headers: str) -> tuple[int, dict]:
    """Ask for a control; return the status and what the answer says."""
    if token is not None:
        headers["authorization"] = f"Bearer {token}"
    body = what if isinstance(what, bytes) else json.dumps(what).encode()
    status, _, said = ask(port, "/control", method="POST", body=body, **headers)
    return status, json.loads(said)


class Page:
    """What a page hears: the states, in order."""

    def __init__(self, port: int, *, receive_buffer: int | None = None) -> None:
        self.socket = socket.socket()
        if receive_buffer is not None:
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_buffer)
        self.socket.settimeout(10)
        self.socket.connect(("127.0.0.1", port))
        self.socket.sendall(f"GET /state HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        self.lines = self.socket.makefile("rb")

    def states(self) -> Iterator[dict]:
        for line in self.lines:
            if line.startswith(b"data: "):
                yield json.loads(line[6:])

    def close(self) -> None:
        self.lines.close()
        self.socket.close()


def is_cut_off(connection: socket.socket) -> bool:
    """Tell whether the other side has ended a connection on which nothing was asked; waits up to 10 s."""
    connection.settimeout(10)
    try:
        return connection.recv(1) == b""
    except ConnectionError:
        return True
