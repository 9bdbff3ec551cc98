"""The click and guide of a led show, heard: strikes handed to a process of their own, ahead of time.

A companion of the daemon's conductor.  A release lies at least a beat ahead, so that it
is heard in time wherever a beat is longer than ``_AHEAD``; where it is shorter, sounds that
were handed over are heard although the show goes elsewhere.  This file decides nothing,
and knows nothing about mixing.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterable
from types import TracebackType
from typing import Any, Self

from bridge.errors import DeviceError
from bridge.show import Conductor, Effect
from bridge.show.leading import Leading, Leg, Wanted
from bridge.show.leading_moment import Strike
from bridge.show.leading_sound import Sounding

__all__ = ["SoundOut"]

_AHEAD = 0.2
"""Seconds by which sounds are handed over before they are heard, the card's own latency apart."""
_PATIENCE = 5.0
"""Seconds that the other process is given to end."""


class SoundOut:
    """The companion; the process runs while a ``with`` block does.

    ``layers`` is the number of layers of the plan that has most; ``tell`` gets a sentence
    when the sound is gone.  Entering raises DeviceError where there is no sound.
    """

    def __init__(
        self,
        sounding: Sounding,
        *,
        layers: int,
        device: str | None,
        peak_dbfs: float,
        tell: Callable[[str], None],
    ) -> None:
        own = [click.channel for click in sounding.clicks]
        self._config = {
            "layers": layers,
            "own": own,
            "device": device,
            "peak_dbfs": peak_dbfs,
            "channels": max([2 if sounding.guide else 1, *own]),
        }
        self.lost = 0
        """Sounds that could not be handed over."""
        self.said: dict[str, Any] = {}
        """What the process said at its end: how many were late, how often the card ran dry."""
        self.ahead = _AHEAD
        self._leading = Leading(Wanted(clock=False, position=False, sound=sounding))
        self._tell = tell
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        words = [sys.executable, "-m", "bridge.live.sound_worker"]
        process = subprocess.Popen(  # noqa: S603  our own module, no words from outside
            words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, start_new_session=True
        )
        try:
            self._hand_over(process, self._config)
            self.ahead = _AHEAD + _latency(process)
        except BaseException:
            process.kill()
            _ended(process)
            raise
        os.set_blocking(_pipe(process).fileno(), False)
        self._process = process
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        process, self._process = self._process, None
        if process is not None:
            self.said = _ended(process)

    @property
    def wake_at(self) -> float | None:
        """When :meth:`wake` is to be called next; None while nothing is due."""
        due = self._leading.wake_at
        return None if due is None else due - self.ahead

    def wake(self, at: float) -> list[Effect]:
        """Hand over what is due."""
        return self._handed_over(self._leading.wake(at + self.ahead))

    def look(self, at: float, conductor: Conductor) -> list[Effect]:
        """Take what the conductor plays, and hand over what is due of it."""
        passed, line = conductor.passed, conductor.line
        if passed is None or line is None:
            return self.stop(at)
        self._leading.play(Leg.of(passed, line))
        return self._handed_over(self._leading.wake(at + self.ahead))

    def stop(self, at: float) -> list[Effect]:
        """Strike no more than what was handed over."""
        return self._handed_over(self._leading.stop(at + self.ahead))

    def _handed_over(self, effects: Iterable[Effect | Strike]) -> list[Effect]:
        for effect in effects:
            if isinstance(effect, Strike) and self._process is not None:
                self._strike(self._process, effect)
        return []

    def _strike(self, process: subprocess.Popen[bytes], strike: Strike) -> None:
        try:
            self._hand_over(process, [strike.due, strike.kind, strike.channel])
        except BlockingIOError:
            self.lost += 1
        except OSError:
            self.lost += 1
            self._process = None
            _ended(process)
            self._tell("the sound is gone: the process that made it has ended; the show goes on without")

    @staticmethod
    def _hand_over(process: subprocess.Popen[bytes], record: object) -> None:
        """Write one line at once, unbuffered: a pipe takes so short a one whole, or not at all."""
        os.write(_pipe(process).fileno(), json.dumps(record).encode() + b"\n")


def _pipe(process: subprocess.Popen[bytes]) -> Any:
    assert process.stdin is not None  # noqa: S101  asked for when it was started
    return process.stdin


def _latency(process: subprocess.Popen[bytes]) -> float:
    """Wait until the process is ready; return the seconds from what it mixes to what is heard."""
    assert process.stdout is not None  # noqa: S101  asked for when it was started
    line = process.stdout.readline()
    said = json.loads(line) if line.strip() else {"error": "the process that makes the sound did not begin"}
    if "error" in said:
        raise DeviceError(said["error"], hint=said.get("hint"))
    return float(said["latency"])


def _ended(process: subprocess.Popen[bytes]) -> dict[str, Any]:
    """End the process by ending what it reads; return what it says at its end."""
    with contextlib.suppress(OSError):
        _pipe(process).close()
    process.stdin = None
    try:
        out, _ = process.communicate(timeout=_PATIENCE)
    except subprocess.TimeoutExpired:
        process.kill()
        out, _ = process.communicate()
    said = json.loads(out) if out.strip() else {}
    return said if isinstance(said, dict) else {}
