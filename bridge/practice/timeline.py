"""The practice host's own tempo and meter: a steady one, or those of a solved song.

Counted from the host's own bar 1, in quarters and seconds.  This file knows nothing
about transports, markers or sockets.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Protocol

from bridge.exact import Meter, Place, Tempo
from bridge.song import HostCount, Song

__all__ = ["SongTimeline", "SteadyTimeline", "Timeline"]


class Timeline(Protocol):
    """What a transport needs to know about musical time."""

    def seconds(self, quarters: Fraction) -> Fraction:
        """Return the host's seconds at its ``quarters``."""
        ...

    def quarters(self, seconds: Fraction) -> Fraction:
        """Return the host's quarters at its ``seconds``."""
        ...

    def bpm(self, quarters: Fraction) -> Fraction:
        """Return the quarter notes a minute there."""
        ...

    def meter(self, quarters: Fraction) -> Meter:
        """Return the meter there."""
        ...


class SteadyTimeline:
    """One tempo and one meter throughout."""

    def __init__(self, tempo: Tempo, meter: Meter) -> None:
        self._bpm = tempo.start
        self._meter = meter

    def seconds(self, quarters: Fraction) -> Fraction:
        """Return the seconds at ``quarters``."""
        return quarters * 60 / self._bpm

    def quarters(self, seconds: Fraction) -> Fraction:
        """Return the quarters at ``seconds``."""
        return seconds * self._bpm / 60

    def bpm(self, quarters: Fraction) -> Fraction:  # noqa: ARG002  the same everywhere
        """Return the tempo."""
        return self._bpm

    def meter(self, quarters: Fraction) -> Meter:  # noqa: ARG002  the same everywhere
        """Return the meter."""
        return self._meter


class SongTimeline:
    """The tempi and meters of a song, the plan's origin added."""

    def __init__(self, song: Song) -> None:
        self._song = song
        self._count = HostCount(song)

    def seconds(self, quarters: Fraction) -> Fraction:
        """Return the seconds at ``quarters``."""
        return self._count.seconds(self._place(quarters))

    def quarters(self, seconds: Fraction) -> Fraction:
        """Return the quarters at ``seconds``."""
        return self._count.whole_notes(self._count.place_of_seconds(seconds)) * 4

    def bpm(self, quarters: Fraction) -> Fraction:
        """Return the tempo at ``quarters``."""
        return self._song.tempo_map.bpm(self._place(quarters))

    def meter(self, quarters: Fraction) -> Meter:
        """Return the meter at ``quarters``."""
        return self._song.bars.bar_at(self._place(quarters)).meter

    def _place(self, quarters: Fraction) -> Place:
        return self._count.place_of_whole_notes(quarters / 4)
