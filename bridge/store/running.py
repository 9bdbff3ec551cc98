"""The file that says a bridge is running: what it plays, which ports it holds, how to talk to it.

One file a process in the user's state folder, for the user's eyes alone where the system
can do that (the token in it lets its reader control the show).  A file that a crash left
is found by its process being gone and removed.  This file knows nothing about what a
bridge does.
"""

from __future__ import annotations

import json
import os
import secrets
import sys
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError, UsageError
from bridge.store.atomic import write_atomically
from bridge.store.lock import state_folder

__all__ = ["Running", "RunningFile", "holder_of", "new_token", "running_bridges"]

_PATTERN = "running-*.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """One running bridge, as its file tells."""

    what: str
    """The command: follow or lead."""
    title: str
    pid: int
    since: float
    """Seconds since 1970."""
    control: tuple[str, int]
    """Where it is talked to: a loopback address and a TCP port."""
    token: str
    ports: tuple[str, ...]
    """The UDP ports that it holds, as ``127.0.0.1:9010``."""
    log: str | None = None

    def __str__(self) -> str:
        return f"the bridge that does {self.what} {self.title!r} (process {self.pid})"

    @classmethod
    def of_record(cls, record: dict[str, Any]) -> Running:
        """Read what the file holds; UsageError for anything else."""
        try:
            host, port = record["control"]
            return cls(
                what=str(record["what"]),
                title=str(record["title"]),
                pid=int(record["pid"]),
                since=float(record["since"]),
                control=(str(host), int(port)),
                token=str(record["token"]),
                ports=tuple(map(str, record["ports"])),
                log=None if record["log"] is None else str(record["log"]),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise UsageError(f"this is no file of a running bridge: {error!r}") from None


def new_token() -> str:
    """Return a new secret that can be typed: 22 letters, digits, - and _."""
    return secrets.token_urlsafe(16)


class RunningFile:
    """Say that ``running`` runs while a ``with`` block does; DeviceError where that cannot be written."""

    def __init__(self, running: Running) -> None:
        self.running = running
        self.path = state_folder() / f"running-{running.pid}.json"

    def __enter__(self) -> Self:
        content = json.dumps(asdict(self.running)).encode()
        running_bridges()  # removes what crashes have left
        try:
            self.path.unlink(missing_ok=True)
            os.close(os.open(self.path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        except OSError as error:
            raise DeviceError(
                f"{str(self.path)!r} cannot be written: {error.strerror or error}",
                hint="May you write in that folder? PULSEBRIDGE_STATE names another one.",
            ) from None
        write_atomically(self.path, content)  # keeps the permissions
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with suppress(OSError):
            self.path.unlink(missing_ok=True)


def running_bridges(folder: Path | None = None) -> tuple[Running, ...]:
    """Return the bridges that run now, the newest first; files that a crash left are removed."""
    found: list[Running] = []
    for path in (folder or state_folder()).glob(_PATTERN):
        one = _read(path)
        if one is not None and _is_alive(one.pid):
            found.append(one)
        elif one is not None:
            with suppress(OSError):
                path.unlink(missing_ok=True)
    return tuple(sorted(found, key=lambda one: -one.since))


def _read(path: Path) -> Running | None:
    """Read one file; None while it is being written, or when it is none of ours."""
    try:
        return Running.of_record(json.loads(path.read_bytes()))
    except (OSError, ValueError, TypeError, UsageError):
        return None


def holder_of(port: str, among: Iterable[Running]) -> Running | None:
    """Return the bridge that holds ``port`` (``127.0.0.1:9010``), if one does."""
    number = port.rpartition(":")[2]
    return next((one for one in among if any(p.rpartition(":")[2] == number for p in one.ports)), None)


if sys.platform == "win32":
    import ctypes

    _QUERY = 0x1000
    _STILL_ACTIVE = 259

    def _is_alive(pid: int) -> bool:
        """Ask for the process: kill(pid, 0) would end it on Windows."""
        kernel = ctypes.windll.kernel32
        handle = kernel.OpenProcess(_QUERY, False, pid)
        if not handle:
            return False
        code = ctypes.c_ulong()
        kernel.GetExitCodeProcess(handle, ctypes.byref(code))
        kernel.CloseHandle(handle)
        return code.value == _STILL_ACTIVE

else:

    def _is_alive(pid: int) -> bool:
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return False
        except OSError:
            pass  # it is there, and another user's
        return True
