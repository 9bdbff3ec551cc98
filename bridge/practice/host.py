"""The practice host on a real UDP port: a socket, a clock and the weather around the rig.

In a program it runs in a thread of its own (``with PracticeHost(...) as host``); the
command runs it in the foreground.
"""

from __future__ import annotations

import heapq
import random
import threading
from collections.abc import Callable, Iterable
from itertools import count
from types import TracebackType
from typing import Self

from bridge.clock import Clock, SteadyClock
from bridge.errors import PulsebridgeError
from bridge.hostmap import Address, Message
from bridge.osc import Port
from bridge.practice.state import Note, Rig
from bridge.practice.timeline import Timeline
from bridge.practice.weather import FAIR, Weather

__all__ = ["PracticeHost"]

_LONGEST_WAIT = 0.05
"""Seconds: how soon a request to stop is seen."""


class PracticeHost:
    """A stand-in host that others reach over UDP."""

    def __init__(
        self,
        timeline: Timeline,
        *,
        listen_on: Address,
        send_to: Address,
        notes: Iterable[tuple[float, str]] = (),
        rate: float = 20,
        weather: Weather = FAIR,
        clock: Clock | None = None,
        on_change: Callable[[Rig], None] | None = None,
    ) -> None:
        """Open the port; DeviceError when it is taken.

        ``notes`` are markers that are the user's own, in seconds; ``rate`` the reports a
        second while it plays; ``on_change`` is told after each message that it heard.
        """
        self.port = Port(listen_on)
        self.dropped = 0
        """Packets that the weather took, either way."""
        self._rig = Rig(timeline, notes=notes, rate=rate)
        self._send_to = (send_to.host, send_to.port)
        self._weather = weather
        self._chance = random.Random(weather.seed)  # noqa: S311  a simulation, no secret
        self._clock = clock or SteadyClock()
        self._on_change = on_change
        self._waiting: list[tuple[float, int, bool, Message]] = []
        self._number = count()
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._failure: PulsebridgeError | None = None

    @property
    def notes(self) -> tuple[Note, ...]:
        """Its markers now."""
        with self._lock:
            return self._rig.notes

    @property
    def playing(self) -> bool:
        """Whether it plays now."""
        with self._lock:
            return self._rig.playing

    def run(self, *, until: float | None = None) -> None:
        """Serve until :meth:`stop`, or until the clock says ``until``."""
        while not self._stop.is_set() and (until is None or self._clock.now() < until):
            self._turn()

    def stop(self) -> None:
        """Make :meth:`run` return soon."""
        self._stop.set()

    def __enter__(self) -> Self:
        self._thread = threading.Thread(target=self._serve, name="practice host", daemon=True)
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
        due = min(self._rig.wake_at, self._waiting[0][0] if self._waiting else now + _LONGEST_WAIT)
        for arrived in self.port.receive(min(_LONGEST_WAIT, due - now)):
            for message in arrived.messages:
                self._carry(message, inward=True)
        self._deliver()
        with self._lock:
            report = self._rig.wake(self._clock.now())
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
                answers = self._rig.hear(message, self._clock.now())
            for answer in answers:
                self._carry(answer, inward=False)
            if self._on_change is not None:
                self._on_change(self._rig)
