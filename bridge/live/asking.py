"""Talking to a running bridge from another process: ask, and read its answers.

This file knows nothing about what is asked.
"""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, BinaryIO

from bridge.errors import PeerError, UsageError
from bridge.store.running import Running, running_bridges

__all__ = ["ask", "connected", "hello", "the_bridge"]

_PATIENCE = 5.0


def the_bridge(pid: int | None = None) -> Running:
    """Return the bridge that runs, or the one with ``pid``; PeerError for none, UsageError for several."""
    found = [one for one in running_bridges() if pid in (None, one.pid)]
    if not found:
        which = "no bridge is running" if pid is None else f"no bridge is running as process {pid}"
        raise PeerError(which, hint="Start one: pulsebridge follow PLAN --host MAP.")
    if len(found) > 1:
        listed = "; ".join(map(str, found))
        raise UsageError(f"several bridges are running: {listed}", hint="Name one: --process NUMBER.")
    return found[0]


def ask(running: Running, **question: Any) -> dict[str, Any]:
    """Ask one question and return the answer.

    PeerError where there is none, UsageError where what is asked for cannot be done.
    """
    with connected(running, **question) as (_, file):
        line = file.readline()
    try:
        answer = json.loads(line)
    except ValueError:
        raise PeerError(f"{running} did not answer") from None
    if not isinstance(answer, dict):
        raise PeerError(f"{running} answered {str(answer)[:60]!r}")
    if "error" in answer:
        told = answer["error"]
        kind = UsageError if told.get("kind") == UsageError.kind else PeerError
        raise kind(f"{running} refused: {told.get('message')}")
    return answer


@contextmanager
def connected(running: Running, **question: Any) -> Iterator[tuple[socket.socket, BinaryIO]]:
    """Ask, and give the connection and the file of its answers; PeerError where nobody listens."""
    with hello(running, **question) as connection, connection.makefile("rb") as file:
        try:
            yield connection, file
        except OSError as error:
            raise _silent(running, error) from None


def hello(running: Running, **question: Any) -> socket.socket:
    """Connect and ask; return the open connection.  PeerError where nobody listens."""
    try:
        connection = socket.create_connection(running.control, timeout=_PATIENCE)
    except OSError as error:
        raise _silent(running, error) from None
    try:
        connection.sendall(json.dumps({"token": running.token, **question}).encode() + b"\n")
    except OSError as error:
        connection.close()
        raise _silent(running, error) from None
    return connection


def _silent(running: Running, error: OSError) -> PeerError:
    return PeerError(
        f"{running} does not answer: {error.strerror or error}", hint="Has it just ended? Try again."
    )
