"""Keys of the terminal as feet: a pedal that types, or the keyboard itself.

The terminal is asked for each key at once and without showing it, and is left as it was
found.  Ctrl-C stays what it is.  Where there is no terminal, nothing is read.  This file
knows nothing about what keys do.
"""

from __future__ import annotations

import asyncio
import os
import sys
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from bridge.live.feet import Press

__all__ = ["Keys", "names_in"]

_NAMES = {
    b"\x1b[A": "Up",
    b"\x1b[B": "Down",
    b"\x1b[C": "Right",
    b"\x1b[D": "Left",
    b"\x1b[5~": "PageUp",
    b"\x1b[6~": "PageDown",
    b"\r": "Enter",
    b"\n": "Enter",
    b" ": "Space",
    b"\t": "Tab",
    b"\x1b": "Escape",
}


def names_in(data: bytes) -> list[str]:
    """Return the names of the keys that a terminal sent: letters as they are, the others by name."""
    found: list[str] = []
    while data:
        known = next((code for code in _NAMES if data.startswith(code)), None)
        if known is not None:
            found.append(_NAMES[known])
            data = data[len(known) :]
            continue
        text = data.decode("utf-8", "ignore")
        if text[:1].isprintable() and text:
            found.append(text[0])
        data = data[len(text[:1].encode()) or 1 :]
    return found


class Keys:
    """Hand each key to ``press`` while a ``with`` block runs."""

    def __init__(self, loop: asyncio.AbstractEventLoop, press: Callable[[Press], None]) -> None:
        self._loop = loop
        self._press = press
        self._before: Any = None

    def __enter__(self) -> Self:
        if sys.stdin is not None and sys.stdin.isatty() and sys.platform != "win32":
            import termios
            import tty

            self._before = termios.tcgetattr(sys.stdin)
            tty.setcbreak(sys.stdin)
            self._loop.add_reader(sys.stdin.fileno(), self._read)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._before is not None:
            import termios

            self._loop.remove_reader(sys.stdin.fileno())
            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, self._before)

    def _read(self) -> None:
        data = os.read(sys.stdin.fileno(), 64)
        if not data:
            self._loop.remove_reader(sys.stdin.fileno())
        for name in names_in(data):
            self._press(Press(kind="key", key=name))
