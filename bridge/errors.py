"""One tree of errors that says whose fault it is.

Each class carries the exit code of the command line and the ``kind`` of its
JSON.  A message says what was found and what is allowed; ``hint`` says what to
do next.  This file knows nothing about files, terminals or JSON: it only keeps
the fields.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

__all__ = [
    "DeviceError",
    "InternalError",
    "MusicError",
    "PeerError",
    "PlanError",
    "PulsebridgeError",
    "UsageError",
    "Where",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in a text: line and column count from 1, ``file`` may be unknown."""

    line: int
    column: int
    file: str | None = None
    text: str | None = None
    """The whole line, so that a caret can be drawn under the column."""

    def __str__(self) -> str:
        return f"{self.file or '<text>'}:{self.line}:{self.column}"


class PulsebridgeError(Exception):
    """The root: something the user should read, never a traceback."""

    kind: ClassVar[str] = "internal"
    exit_code: ClassVar[int] = 4

    def __init__(self, message: str, *, hint: str | None = None, where: Where | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.where = where

    def at(self, where: Where) -> PulsebridgeError:
        """Give the error its place in the file, unless it already has one; return it."""
        if self.where is None:
            self.where = where
        return self

    def __str__(self) -> str:
        head = f"{self.where}: " if self.where else ""
        tail = f"\n{self.hint}" if self.hint else ""
        return f"{head}{self.message}{tail}"


class UsageError(PulsebridgeError):
    """The command was called in a way it cannot be."""

    kind = "usage"
    exit_code = 2


class PlanError(PulsebridgeError):
    """A file of the user's (a plan, a host map, a recording) cannot be read as one."""

    kind = "plan"
    exit_code = 2


class MusicError(PulsebridgeError):
    """The file is well formed, but the music it asks for does not exist."""

    kind = "music"
    exit_code = 1


class PeerError(PulsebridgeError):
    """Another program (the host, another bridge) did not do what was asked."""

    kind = "peer"
    exit_code = 3


class DeviceError(PulsebridgeError):
    """A port, a sound card or a disk refused."""

    kind = "device"
    exit_code = 3


class InternalError(PulsebridgeError):
    """A fault of ours; please report it."""

    kind = "internal"
    exit_code = 4
