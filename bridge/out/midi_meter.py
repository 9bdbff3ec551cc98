"""Meters as a MIDI file can hold them: one number over a power of two, no groups.

Source: Standard MIDI File 1.0 (RP-001, 1996): ``FF 58 04 nn dd cc bb``; nn is one byte,
cc the MIDI clocks (24 a quarter) in one metronome click, one byte.  An additive meter
keeps its sum and clicks its smallest unit; its groups are said in a text event.  A bar
of more than 255 units is written in larger units, else as several equal bars, so that
every barline of the song is one in the file.  This file knows nothing about messages.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

from bridge.exact import Length, Meter

__all__ = ["Signature"]

_BYTE = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """What the time signature event says."""

    top: int
    unit: int
    clocks: int
    """MIDI clocks in one click, 1 to 255."""
    exact: bool
    """Whether upper and lower number are those of the meter."""

    @classmethod
    def of(cls, meter: Meter) -> Signature:
        """Return the signature nearest to ``meter``."""
        top, unit = meter.top, meter.unit
        if top > _BYTE:
            shared = gcd(top, unit)
            top, unit = top // shared, unit // shared
        if top > _BYTE:
            top = next(part for part in range(_BYTE, 0, -1) if top % part == 0)
        clocks = _clocks(meter)
        return cls(top=top, unit=unit, clocks=clocks, exact=(top, unit) == (meter.top, meter.unit))


def _clocks(meter: Meter) -> int:
    beats = set(meter.counted)
    beat = beats.pop() if len(beats) == 1 else meter.beat
    clocks = _whole_clocks(beat)
    return clocks if clocks <= _BYTE else _whole_clocks(meter.beat)


def _whole_clocks(beat: Length) -> int:
    """Return the clocks in the beat, or in as few beats as last whole clocks (two 64ths are three)."""
    return (beat.quarters * 24).numerator
