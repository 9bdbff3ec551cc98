"""The place as an OSC message, for receivers that take neither clock nor time code.

    /pulsebridge/position f f f i    quarters, seconds, quarter notes a minute, playing 1 or 0

Quarters and seconds are the host's (the plan's origin is added) at the place that is
shown, the tempo is the one that is played.  It is sent at every sixteenth, at every jump,
and as the show starts and stops.  The address is our own.  This file knows nothing about
sockets.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from bridge.exact import Length
from bridge.hostmap import Message
from bridge.show.leading_leg import SAME_INSTANT, Leg, Stretch
from bridge.show.leading_moment import Moment, osc

__all__ = ["ADDRESS", "position_moments", "position_stopped"]

ADDRESS = "/pulsebridge/position"
_EVERY = Length(Fraction(1, 16))


def position_moments(leg: Leg) -> Iterator[Moment]:
    """Walk through what is sent in ``leg``, in order, without an end; a standing place before it moves."""
    if leg.is_free or leg.sounds_from < leg.enters:
        yield _said(leg, leg.starts_at, leg.enters, Length(0), playing=False)
    if leg.is_free:
        return
    for stretch in leg.stretches():
        for into in _places(stretch):
            yield _said(leg, leg.at(into), into, stretch.back, playing=True)


def position_stopped(leg: Leg, at: Fraction) -> Moment:
    """Make the word that the place stands still where ``leg`` is at ``at``."""
    if leg.ends_at is not None and abs(at - leg.ends_at) <= SAME_INSTANT:
        return _said(leg, at, leg.leaves or leg.enters, leg.last_back(), playing=False)
    into = leg.enters if leg.is_free else max(leg.enters, leg.axis.at(at - leg.began))
    beyond = into - leg.axis.length
    back = Length(0) if beyond < Length(0) else leg.loop * (beyond // leg.loop + 1)
    return _said(leg, at, into, back, playing=False)


def _places(stretch: Stretch) -> Iterator[Length]:
    yield stretch.start
    number = stretch.start // _EVERY + 1
    while stretch.end is None or _EVERY * number < stretch.end:
        yield _EVERY * number
        number += 1


def _said(leg: Leg, at: Fraction, into: Length, back: Length, *, playing: bool) -> Moment:
    place = leg.place(into, back)
    numbers = (leg.count.whole_notes(place) * 4, leg.count.seconds(place), leg.axis.bpm(into))
    return osc(at, Message(ADDRESS, "fffi", (*map(float, numbers), int(playing))))
