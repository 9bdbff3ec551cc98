"""MIDI clock out of a leg: 24 ticks a quarter, each at its own exact time, and what moves receivers.

Source: MIDI 1.0 detailed specification 4.2, system common and real time messages.  Start
is place 0, Continue the place that song position named, and playing begins at the next
clock; song position counts sixteenths, in 14 bits, and is sent only while stopped; clocks
while stopped move nobody, but tell the tempo: so a count-in is ticked before Start.

Ticks stand on the receivers' own grid of 1/96 of a whole note.  In a hold they go on
evenly, and receivers that count them run ahead of the plan by what was held; with
``jumps`` they are moved with the show, by Stop, song position and Continue between two
ticks.  This file knows nothing about ports.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from bridge.exact import Length
from bridge.follow.messages import Clock, Continue, SongPosition, Start, Stop
from bridge.show.leading_leg import Leg
from bridge.show.leading_moment import Moment, Rank, midi, tell

__all__ = ["HIGHEST_POSITION", "TICK", "clock_moments", "count_at_end", "stop_moment"]

TICK = Length(Fraction(1, 96))
_SIXTEENTH = Length(Fraction(1, 16))
_HALF_TICK = Length(Fraction(1, 192))
_NOTHING = Length(0)
HIGHEST_POSITION = 2**14 - 1
"""Sixteenths."""
_BEYOND = (
    "song position reaches 16383 sixteenths and no further: receivers of the clock that were to go to {}"
    " go on where they stand"
)


def clock_moments(leg: Leg, base: Length | None, *, jumps: bool) -> Iterator[Moment]:
    """Walk through what is sent in ``leg``, in order, without an end; nothing in a free passage.

    ``base``: what receivers count, in whole notes, at its section's start while they play
    on into it; None where they stand, and are sent to their place.
    """
    if leg.is_free:
        return
    rolls, since = base is not None, leg.sounds_from
    for stretch in leg.stretches():
        planned = _planned(leg, stretch.back)
        if base is None or (jumps and base != planned):
            base = planned
            yield from _moved(leg, base, since, stretch.end, rolls=rolls)
        else:
            yield from _ticks(leg, base, since, stretch.end)
        rolls = True
        if stretch.end is not None:
            since = stretch.end


def count_at_end(leg: Leg, base: Length | None, *, jumps: bool) -> Length:
    """Return what receivers count, in whole notes, where ``leg`` is left."""
    if base is None or jumps:
        base = _planned(leg, leg.last_back() if jumps else _NOTHING)
    return base + (leg.leaves or _NOTHING)


def stop_moment(at: Fraction) -> Moment:
    """Make the Stop at ``at``."""
    return midi(at, Rank.STOP, Stop())


def _planned(leg: Leg, back: Length) -> Length:
    """Return what receivers that stand at the place that is shown count at the section's start."""
    return Length(leg.count.whole_notes(leg.place(_NOTHING, back)))


def _moved(leg: Leg, base: Length, since: Length, end: Length | None, *, rolls: bool) -> Iterator[Moment]:
    """Send receivers to their place, and have them play from its first sixteenth on."""
    at = leg.at(since)
    if rolls:
        yield stop_moment(at)
    sixteenths = _steps(max(since, leg.enters) + base, _SIXTEENTH)
    if 0 < sixteenths <= HIGHEST_POSITION:
        yield midi(at, Rank.PLACE, SongPosition(sixteenths=sixteenths))
    elif sixteenths:
        yield tell(at, "beyond song position", _BEYOND.format(sixteenths))
    goes = _SIXTEENTH * sixteenths - base
    ready = goes - _HALF_TICK
    yield from _ticks(leg, base, since, ready)
    yield midi(max(at, leg.at(ready)), Rank.GO, Continue() if sixteenths else Start())
    yield from _ticks(leg, base, goes, end)


def _ticks(leg: Leg, base: Length, since: Length, end: Length | None) -> Iterator[Moment]:
    """Walk through the ticks at ``since`` or later and before ``end``."""
    number = _steps(since + base, TICK)
    into = TICK * number - base
    while end is None or into < end:
        yield midi(leg.at(into), Rank.TICK, Clock())
        number += 1
        into = TICK * number - base


def _steps(length: Length, step: Length) -> int:
    """Count the ``step`` in ``length``, a broken one as a whole."""
    return -(-length // step)
