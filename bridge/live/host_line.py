"""What the running bridge asks of the host: one deed after another, at the host's pace, as its map says.

Replies that a map awaits are heard among what comes in.  This file decides nothing, and
knows nothing about why the host is asked.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from types import TracebackType
from typing import Self

from bridge.errors import PlanError, PulsebridgeError
from bridge.hostmap import Address, HostMap, Message, Ruler
from bridge.lay import Send, Speaking, steps_of
from bridge.lay.effect import Effect
from bridge.osc import Port, resolve
from bridge.show import AskHost
from bridge.song import Song

__all__ = ["HostLine"]

_MOST_WAITING = 64
_ANYWHERE = Address("0.0.0.0", 0)  # noqa: S104  any port, to send from


@dataclass(slots=True)
class HostLine:
    """Asks ``host`` while a ``with`` block runs; ``tell`` gets a sentence when it cannot be asked.

    ``port`` is the socket that the host is listened to on; None: one is opened to send from.
    """

    host: HostMap
    port: Port | None
    tell: Callable[[str], None]
    failed: int = 0
    """Messages that the network refused."""
    _own: Port | None = None
    _to: tuple[str, int] | None = None
    _waiting: deque[tuple[AskHost, Song]] = field(default_factory=deque)
    _speaking: Speaking | None = None
    _deed: str = ""

    def __enter__(self) -> Self:
        if self.host.send_to is not None:
            self._to = resolve(self.host.send_to)[1]
            if self.port is None:
                self._own = Port(_ANYWHERE)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._own is not None:
            self._own.close()

    @property
    def wake_at(self) -> float | None:
        """When :meth:`wake` is to be called; None while nothing is being said."""
        return None if self._speaking is None else self._speaking.wake_at

    def ask(self, asked: AskHost, song: Song, now: float) -> None:
        """Ask for a deed about a place of ``song``, after what was asked before."""
        if len(self._waiting) >= _MOST_WAITING:
            self.failed += 1
            return
        self._waiting.append((asked, song))
        self.wake(now)

    def hear(self, message: Message, now: float) -> None:
        """Take a message of the host's: it may be the reply that is waited for."""
        if self._speaking is not None:
            self._do(self._speaking.reply(message, now))
            self.wake(now)

    def wake(self, now: float) -> None:
        """Say what is due."""
        while True:
            if self._speaking is None and not self._begin(now):
                return
            if self._speaking is None:
                continue
            self._do(self._speaking.wake(now))
            if self._speaking.result is None:
                return
            if self._speaking.was_given_up:
                self.tell(f"the host did not send the reply that its map awaits to {self._deed!r}")
            self._speaking = None

    def _begin(self, now: float) -> bool:
        """Begin the next deed; False where none waits."""
        if not self._waiting:
            return False
        asked, song = self._waiting.popleft()
        self._deed = asked.deed
        ruler = Ruler(song)
        try:
            steps = steps_of(ruler, self.host, asked.deed, asked.place, end=asked.until)
        except PlanError as error:
            self.tell(f"the host cannot be asked for {asked.deed!r}: {error.message}")
            return True
        self._speaking = Speaking(ruler, self.host, steps)
        self._do(self._speaking.start(now))
        return True

    def _do(self, effects: list[Effect]) -> None:
        for effect in effects:
            if isinstance(effect, Send):
                self._send(effect.message)

    def _send(self, message: Message) -> None:
        port = self.port or self._own
        if port is None or self._to is None:
            self.failed += 1
            return
        with suppress(PulsebridgeError):
            port.send(message, self._to)
            return
        self.failed += 1
