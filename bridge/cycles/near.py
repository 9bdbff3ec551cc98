"""Meetings within a tolerance: for drifting layers, and for those that never meet exactly.

The tolerance is a musical length; at a constant tempo that is an exact number of
milliseconds.  Turning one into the other is the business of whoever asks: this file
knows nothing about tempo.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from bridge.cycles.layer import Layer
from bridge.cycles.meetings import period
from bridge.cycles.row import Row
from bridge.cycles.window import Lane, Window, lane
from bridge.cycles.words import in_words
from bridge.errors import PlanError
from bridge.exact import Length, Meters

__all__ = ["NearLengths", "NearMeeting", "near_lengths", "near_meetings", "off_home"]

_NOTHING = Length(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class NearMeeting:
    """Homes, one of each layer in the order given, at most a tolerance from first to last."""

    homes: tuple[Length, ...]

    @property
    def at(self) -> Length:
        """The earliest of the homes."""
        return min(self.homes)

    @property
    def spread(self) -> Length:
        """From the earliest home to the latest."""
        return max(self.homes) - min(self.homes)


@dataclass(frozen=True, slots=True, kw_only=True)
class NearLengths:
    """The lengths in bars at whose end every layer is home within ``within`` of the barline, either side.

    ``period_bars`` is the bars after which meters and layers all stand as before, so that
    the row repeats; None where no barline is ever near enough.
    """

    meters: Meters
    layers: tuple[Layer, ...]
    within: Length
    period_bars: int | None
    lanes: tuple[tuple[int, Lane], ...]
    """For each bar of the list that can be near: its index, and the passes through the list."""

    def __iter__(self) -> Iterator[int]:
        """Yield them in rising order; without end where there is one at all."""
        count = len(self.meters.row)
        return heapq.merge(*(_bars(index, count, one) for index, one in self.lanes))

    def __contains__(self, bars: object) -> bool:
        return isinstance(bars, int) and bars >= 1 and self.at_or_after(bars) == bars

    def at_or_after(self, bars: int) -> int | None:
        """Return the first such length of ``bars`` bars or more, or None.

        MusicError when that took too many steps to tell.
        """
        count = len(self.meters.row)
        found = [(index, one.at_or_after(-(-(bars - index) // count))) for index, one in self.lanes]
        return min((index + count * passes for index, passes in found if passes is not None), default=None)

    def at_or_before(self, bars: int) -> int | None:
        """Return the last such length of ``bars`` bars or fewer, or None; errors as above."""
        count = len(self.meters.row)
        found = [(index, one.at_or_before((bars - index) // count)) for index, one in self.lanes]
        return max((index + count * passes for index, passes in found if passes is not None), default=None)

    def off(self, bars: int) -> tuple[Length, ...]:
        """Tell how far from the end of ``bars`` bars each layer's nearest home is; positive: after it."""
        return tuple(off_home(layer, self.meters.of_bars(bars)) for layer in self.layers)


def off_home(layer: Layer, at: Length) -> Length:
    """Tell how far from ``at`` the layer's nearest home is: positive when after it, negative before."""
    if at <= layer.start:
        return layer.start - at
    since = (at - layer.start) % layer.turn
    return layer.turn - since if since * 2 > layer.turn else -since


def near_lengths(meters: Meters, layers: Sequence[Layer], *, within: Length) -> NearLengths:
    """Return the lengths at which all ``layers`` (at least one) are home within ``within``."""
    meters = _shortest(meters)
    count = len(meters.row)
    span = meters.length
    grain = _grain([span, within, *map(meters.of_bars, range(count))], layers)
    lanes = []
    for index in range(count):
        start = meters.of_bars(index)
        first = max(_passes_to(layer.start - within - start, span) for layer in layers)
        earliest = Row(max(first, 1 if index == 0 else 0), 1)
        windows = [_window(layer, start=start, step=span, within=within, grain=grain) for layer in layers]
        if found := lane(earliest, windows):
            lanes.append((index, found))
    near = NearLengths(
        meters=meters, layers=tuple(layers), within=within, period_bars=None, lanes=tuple(lanes)
    )
    if near.at_or_after(1) is None:
        return near
    whole = period([*layers, Layer(name="the list of meters", cycle=span)])
    return replace(near, period_bars=meters.bars_within(whole))


def near_meetings(
    layers: Sequence[Layer], *, within: Length, after: Length, before: Length
) -> Iterator[NearMeeting]:
    """Yield the meetings within a tolerance whose earliest home lies strictly between two instants.

    In rising order, as they are asked for.  ``within`` is the most from the first home to
    the last.  PlanError when it reaches half of a turn: then 'near' means nothing.
    """
    for layer in layers:
        if within * 2 >= layer.turn:
            raise PlanError(
                f"a tolerance of {in_words(within)} is half a turn of {layer.name!r} or more",
                hint=f"Ask for less than {in_words(layer.turn / 2)}.",
            )
    slowest = max(layers, key=lambda layer: layer.turn)
    grain = _grain([within], layers)
    windows = [
        _window(layer, start=slowest.start, step=slowest.turn, within=within, grain=grain) for layer in layers
    ]
    first = max(_passes_to(layer.start - within - slowest.start, slowest.turn) for layer in layers)
    found = lane(Row(max(first, 0), 1), windows)
    if found is None:
        return
    low, high = (_passes_to(at - slowest.start, slowest.turn) for at in (after, before + within))
    for turn in found.rising(low, high):
        at = slowest.start + slowest.turn * turn
        meeting = NearMeeting(homes=tuple(at + off_home(layer, at) for layer in layers))
        if meeting.spread <= within and after < meeting.at < before:
            yield meeting


def _bars(index: int, count: int, one: Lane) -> Iterator[int]:
    return (index + count * passes for passes in one.rising(0))


def _window(layer: Layer, *, start: Length, step: Length, within: Length, grain: int) -> Window:
    """Say at which of ``start``, ``start + step``, ... the layer has a home within reach."""
    turn = _grains(layer.turn, grain)
    return Window(
        offset=_grains(start - layer.start + within, grain) % turn,
        step=_grains(step, grain) % turn,
        modulus=turn,
        width=_grains(within, grain) * 2,
    )


def _passes_to(length: Length, step: Length) -> int:
    """Count the steps needed to reach ``length`` or pass it."""
    return -(-length // step)


def _shortest(meters: Meters) -> Meters:
    """Return the shortest list that repeats to the same barlines."""
    bars = [meter.length for meter in meters.row]
    for count in range(1, len(bars)):
        if len(bars) % count == 0 and bars[:count] * (len(bars) // count) == bars:
            return Meters(meters.row[:count])
    return meters


def _grain(lengths: Sequence[Length], layers: Sequence[Layer]) -> int:
    parts = [*lengths, *(layer.start for layer in layers), *(layer.turn for layer in layers)]
    return lcm(*(part.whole_notes.denominator for part in parts))


def _grains(length: Length, grain: int) -> int:
    part: Fraction = length.whole_notes * grain
    return part.numerator
