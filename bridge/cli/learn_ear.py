"""The ear of ``learn``: hears a port, keeps what one confirmed sender says, and the steps between.

This file knows neither questions nor what messages mean.
"""

from __future__ import annotations

import select
import threading
import time
from types import TracebackType
from typing import TYPE_CHECKING, Self

from bridge.learn import PREFIX, Happening, Mark, write_mark
from bridge.osc.codec import decode

if TYPE_CHECKING:
    from bridge.hostmap import Message
    from bridge.osc import Port
    from bridge.osc.port import Packet
    from bridge.store.recorder import Recorder

__all__ = ["Ear"]

_MOST_WAITING = 200_000
"""Messages kept of senders that nobody has confirmed yet."""
_LONGEST_WAIT = 0.05
"""Seconds: how soon a request to stop is seen."""


class Ear:
    """Hears the port in a thread; hands out what one confirmed sender said, in order."""

    def __init__(self, port: Port, recorder: Recorder | None) -> None:
        self.port = port
        self.happenings: list[Happening] = []
        self.sender: tuple[str, int] | None = None
        self.refused: set[tuple[str, int]] = set()
        self.ignored = 0
        """Messages of other senders, and those under our own addresses."""
        self._recorder = recorder
        self._waiting: list[tuple[float, tuple[str, int], Message, bytes]] = []
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._failure: Exception | None = None
        self._thread = threading.Thread(target=self._listen, name="learn", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        self._thread.join()

    def newcomer(self) -> tuple[tuple[str, int], str] | None:
        """Return who else sends that nobody was asked about, and an address it used."""
        with self._lock:
            for _, sender, message, _ in self._waiting:
                if sender != self.sender and sender not in self.refused:
                    return sender, message.address
        return None

    def mark(self, mark: Mark) -> None:
        """Note a step of the interview, after all that came before it."""
        self.take()
        self._keep(time.monotonic(), mark, b"")
        if self._recorder is not None:
            self._recorder.flush()

    def take(self) -> None:
        """Take over what has come from the host; drop what came from others that were refused.

        Raise what went wrong with the port since.
        """
        if self._failure is not None:
            raise self._failure
        with self._lock:
            mine = [one for one in self._waiting if one[1] == self.sender]
            kept = [one for one in self._waiting if one[1] != self.sender and one[1] not in self.refused]
            self.ignored += len(self._waiting) - len(mine) - len(kept)
            self._waiting = kept
        for at, _, message, packet in mine:
            if message.address.startswith(PREFIX):
                self.ignored += 1
            else:
                self._keep(at, message, packet)

    def _keep(self, at: float, said: Message | Mark, packet: bytes) -> None:
        from bridge.store.recording import Recorded

        at = max(at, self.happenings[-1].at) if self.happenings else at
        self.happenings.append(Happening(at, said))
        if self._recorder is not None:
            osc = write_mark(said) if isinstance(said, Mark) else said
            self._recorder.write(Recorded(at=at, osc=osc), packet)

    def _listen(self) -> None:
        try:
            while not self._stop.is_set():
                select.select([self.port], [], [], _LONGEST_WAIT)
                for packet in self.port.drain(64):
                    self._put(packet)
        except Exception as error:  # noqa: BLE001  raised again where the interview goes on
            self._failure = error

    def _put(self, packet: Packet) -> None:
        messages, faults = decode(packet.data)
        self.port.counts.unreadable += len(faults)
        rows = [(packet.at, packet.sender, message, packet.data) for message in messages]
        with self._lock:
            room = _MOST_WAITING - len(self._waiting)
            self._waiting += rows[:room]
            self.ignored += len(rows) - len(rows[:room])
