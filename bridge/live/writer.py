"""Lines for a terminal or another program, written by a thread: a slow reader never holds up a cue.

This file knows nothing about what the lines say.
"""

from __future__ import annotations

import queue
import threading
from contextlib import suppress
from types import TracebackType
from typing import Self, TextIO

__all__ = ["LineWriter"]

_MOST_WAITING = 10_000
_LONGEST_GOODBYE = 2.0


class LineWriter:
    """Write to ``file`` while a ``with`` block runs; what a reader does not take is dropped and counted."""

    def __init__(self, file: TextIO) -> None:
        self.dropped = 0
        self.gone = False
        """The reader has closed its end."""
        self._file = file
        self._lines: queue.Queue[str | None] = queue.Queue(_MOST_WAITING)
        self._thread = threading.Thread(target=self._run, name="lines", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with suppress(queue.Full):
            self._lines.put(None, timeout=_LONGEST_GOODBYE)
        self._thread.join(_LONGEST_GOODBYE)

    def write(self, text: str) -> None:
        """Take text to write, as it is."""
        try:
            self._lines.put_nowait(text)
        except queue.Full:
            self.dropped += 1

    def _run(self) -> None:
        ended = False
        while not ended:
            texts = [self._lines.get()]
            with suppress(queue.Empty):
                while True:
                    texts.append(self._lines.get_nowait())
            ended = None in texts
            self._put("".join(text for text in texts if text is not None))

    def _put(self, text: str) -> None:
        if self.gone:
            return
        try:
            self._file.write(text)
            self._file.flush()
        except (OSError, ValueError):
            self.gone = True
