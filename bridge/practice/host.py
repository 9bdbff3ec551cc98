"""The practice host on a real UDP port.

In a program it runs in a thread of its own (``with PracticeHost(...) as host``); the
command runs it in the foreground.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from bridge.clock import Clock
from bridge.hostmap import Address
from bridge.practice.serving import Serving
from bridge.practice.state import Note, Rig
from bridge.practice.timeline import Timeline
from bridge.practice.weather import FAIR, Weather

__all__ = ["PracticeHost"]


class PracticeHost(Serving):
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
        self._rig = rig = Rig(timeline, notes=notes, rate=rate)
        super().__init__(rig, listen_on=listen_on, send_to=send_to, weather=weather, clock=clock)
        if on_change is not None:
            self._after = lambda: on_change(rig)

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
