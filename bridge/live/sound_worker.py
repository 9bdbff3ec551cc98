"""The process that sounds while a show is led: strikes come in on stdin, and go out on the card in time.

A process of its own, since mixing would hold up the interpreter that sends cues.  The steady
clock is the machine's, and the same in both.  Where the card is in its own time is learnt
from each of its calls (:mod:`bridge.midi.frames`).

    in     {"layers", "own", "device", "peak_dbfs", "channels"}    once
           [due, kind, channel]                                    a sound
    out    {"ready": true, "latency", "channels"}  or  {"error"}   once
           {"late", "underflows"}                                  at the end

This file knows nothing about songs.
"""

from __future__ import annotations

import json
import sys
import time
from collections import deque
from typing import IO, Any

from bridge.errors import DeviceError
from bridge.midi.frames import FrameClock
from bridge.out.guide.live_mix import LiveMix
from bridge.out.guide.loudness import PER_SECOND
from bridge.out.sound_card import opened

__all__ = ["Player", "main"]

_RING = 0.4
"""Seconds that what was struck last may ring."""

_LONGEST_LATENCY = 2.0


class Player:
    """Fills the card's blocks; strikes are handed over by :meth:`strike` from another thread."""

    def __init__(self, mix: LiveMix) -> None:
        self.underflows = 0
        self._mix = mix
        self._clock = FrameClock(mix.per_second)
        self._frame = 0
        self._waiting: deque[tuple[float, str, int | None]] = deque()

    def strike(self, due: float, kind: str, channel: int | None) -> None:
        """Let a sound be heard at ``due`` steady seconds."""
        self._waiting.append((due, kind, channel))

    def fill(self, out: Any, frames: int, heard_at: float, underflow: bool) -> None:
        """Fill a block whose first frame is heard at ``heard_at`` steady seconds."""
        self.underflows += underflow
        self._clock.tell(self._frame, heard_at)
        first = self._clock.seconds(self._frame)
        while self._waiting:
            due, kind, channel = self._waiting.popleft()
            self._mix.strike(self._frame + round((due - first) * self._mix.per_second), kind, channel)
        out[:] = self._mix.block(self._frame, frames)
        self._frame += frames


def main(inside: IO[str] = sys.stdin, outside: IO[str] = sys.stdout) -> int:
    """Sound until ``inside`` ends."""
    wanted = json.loads(inside.readline())
    mix = LiveMix(
        layers=wanted["layers"],
        channels=wanted["channels"],
        own=wanted["own"],
        per_second=PER_SECOND,
        peak_dbfs=wanted["peak_dbfs"],
    )
    player = Player(mix)
    latency = 0.0

    def call(out: Any, frames: int, times: Any, status: Any) -> None:
        heard_at = time.monotonic() + _until_heard(times, latency)
        player.fill(out, frames, heard_at, bool(status.output_underflow))

    try:
        with opened(wanted["device"], channels=wanted["channels"], call=call) as stream:
            latency = float(stream.latency)
            _say(outside, ready=True, latency=latency, channels=wanted["channels"])
            for line in inside:
                player.strike(*json.loads(line))
            time.sleep(_RING + latency)
    except DeviceError as error:
        _say(outside, error=error.message, hint=error.hint)
        return 3
    _say(outside, late=mix.late, underflows=player.underflows)
    return 0


def _until_heard(times: Any, latency: float) -> float:
    """Return the seconds until a block is heard; some systems do not say, and mean their latency."""
    said = float(times.outputBufferDacTime) - float(times.currentTime)
    return said if times.outputBufferDacTime and 0 <= said < _LONGEST_LATENCY else float(latency)


def _say(outside: IO[str], **record: Any) -> None:
    outside.write(json.dumps(record) + "\n")
    outside.flush()


if __name__ == "__main__":
    raise SystemExit(main())
