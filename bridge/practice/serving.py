"""A pure stand-in program on a real UDP port: a socket, a clock and the weather around it.

It runs in a thread of its own (``with Serving(...) as served``) or in the foreground.
This file knows nothing about markers or transports.
"""

from __future__ import annotations

import heapq
import random
import threading
from collections.abc import Callable
from itertools import count
from types import TracebackType
from typing import Protocol, Self

from bridge.clock import Clock, SteadyClock
from bridge.errors import PulsebridgeError
from bridge.hostmap import Address, Message
from bridge.osc import Port
from bridge.practice.weather import FAIR, Weather

__all__ = ["Program", "Serving"]

_LONGEST_WAIT = 0.05
"""Seconds: how soon a request to stop is seen."""


class Program(Protocol):
    """A message and a time in, messages out."""

    @property
    def wake_at(self) -> float:
        """When it wants to report next."""
        ...

    def wake(self, now: float) -> list[Message]:
        """Return the report that is due."""
        ...

    def hear(self, message: Message, now: float) -> list[Message]:
        """Do what ``message`` asks for and return the answers."""
        ...


class Serving:
    """A program that others reach over UDP."""

    def __init__(
        self,
        program: Program,
        *,
        listen_on: Address,
        send_to: Address,
        weather: Weather = FAIR,
        clock: Clock | None = None,
    ) -> None:
        """Open the port; DeviceError when it is taken."""
        self.port = Port(listen_on)
        self.dropped = 0
        """Packets that the weather took, either way."""
        self._program = program
        self._send_to = (send_to.host, send_to.port)
        self._weather = weather
        self._chance = random.Random(weather.seed)  # noqa: S311  a simulation, no secret
        self._clock = clock or SteadyClock()
        self._after: Callable[[], None] | None = None
        """Called after each message that it heard."""
        self._waiting: list[tuple[float, int, bool, Message]] = []
        self._number = count()
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._failure: PulsebridgeError | None = None

    def run(self, *, until: float | None = None) -> None:
        """Serve until :meth:`stop`, or until the clock says ``until``."""
        while not self._stop.is_set() and (until is None or self._clock.now() < until):
            self._turn()

    def stop(self) -> None:
        """Make :meth:`run` return soon."""
        self._stop.set()

    def __enter__(self) -> Self:
        self._thread = threading.Thread(target=self._serve, name="stand-in host", daemon=True)
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
        if self._thread is not None:
            self._thread.join()
        self.port.close()
        if self._failure is not None and error is None:
            raise self._failure

    def _serve(self) -> None:
        try:
            self.run()
        except PulsebridgeError as error:
            self._failure = error

    def _turn(self) -> None:
        now = self._clock.now()
        due = min(self._program.wake_at, self._waiting[0][0] if self._waiting else now + _LONGEST_WAIT)
        for arrived in self.port.receive(min(_LONGEST_WAIT, due - now)):
            for message in arrived.messages:
                self._carry(message, inward=True)
        self._deliver()
        with self._lock:
            report = self._program.wake(self._clock.now())
        for message in report:
            self._carry(message, inward=False)
        self._deliver()

    def _carry(self, message: Message, *, inward: bool) -> None:
        """Hand a message to the weather."""
        arrivals = self._weather.arrivals(self._clock.now(), self._chance)
        if not arrivals:
            self.dropped += 1
        for at in arrivals:
            heapq.heappush(self._waiting, (at, next(self._number), inward, message))

    def _deliver(self) -> None:
        """Do and send what has arrived by now; answers go through the weather too."""
        while self._waiting and self._waiting[0][0] <= self._clock.now():
            _, _, inward, message = heapq.heappop(self._waiting)
            if not inward:
                self.port.send(message, self._send_to)
                continue
            with self._lock:
                answers = self._program.hear(message, self._clock.now())
            for answer in answers:
                self._carry(answer, inward=False)
            if self._after is not None:
                self._after()
