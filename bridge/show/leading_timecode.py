"""MIDI time code out of a leg: quarter frames while it plays, a full frame wherever it jumps.

Source: MIDI Time Code (RP-004/RP-008): a code goes out in eight quarter frames, piece 0
on the edge of an even frame, a quarter of a frame apart.  The code is the host's seconds
of the place that is shown, and runs at the speed of real seconds: in a hold it jumps back,
and where that was a ramp, which is held at its last tempo, a turn of the loop may end some
way from where the ramp would have.  While a passage is counted in, and in one without
bars, it stands still.  This file knows nothing about how frames are named.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor

from bridge.exact import Length
from bridge.follow import Rate, Timecode
from bridge.follow.messages import FullFrame
from bridge.show.leading_leg import SAME_INSTANT, Leg, Stretch
from bridge.show.leading_moment import Moment, Rank, midi

__all__ = ["code_at_end", "code_moments"]

_PIECES = 8
_PER_FRAME = 4


def code_moments(leg: Leg, rate: Rate, since: Fraction | None) -> Iterator[Moment]:
    """Walk through what is sent in ``leg``, in order, without an end.

    ``since``: the seconds that the code had come to as it began; None where it stood.
    """
    for stretch in leg.stretches():
        seconds = _seconds(leg, stretch)
        jumps = since is None or abs(since - seconds) > SAME_INSTANT
        if jumps:
            yield _full(leg, stretch, seconds, rate)
        if leg.is_free:
            return
        yield from _running(leg, stretch, seconds, rate, whole=jumps)
        since = None


def code_at_end(leg: Leg) -> Fraction:
    """Return the seconds that the code has come to where ``leg`` is left."""
    last = _last_stretch(leg)
    return _seconds(leg, last) + leg.at(leg.leaves or last.start) - leg.at(last.start)


def _last_stretch(leg: Leg) -> Stretch:
    back = leg.last_back()
    return next(stretch for stretch in leg.stretches() if stretch.back >= back)


def _seconds(leg: Leg, stretch: Stretch) -> Fraction:
    return leg.count.seconds(leg.place(stretch.start, stretch.back))


def _full(leg: Leg, stretch: Stretch, seconds: Fraction, rate: Rate) -> Moment:
    """Make the full frame that names the frame at ``seconds``, sent as early as it can be known."""
    code = Timecode.of_frame(floor(seconds * rate.a_second), rate)
    message = FullFrame(
        rate=rate.code, hours=code.hours, minutes=code.minutes, seconds=code.seconds, frames=code.frames
    )
    first = stretch.back == Length(0)
    return midi(leg.starts_at if first else leg.at(stretch.start), Rank.PLACE, message)


def _running(leg: Leg, stretch: Stretch, seconds: Fraction, rate: Rate, *, whole: bool) -> Iterator[Moment]:
    """Walk through the quarter frames of a stretch that begins at ``seconds``; ``whole``: with a piece 0."""
    starts = leg.at(stretch.start)
    ends = None if stretch.end is None else leg.at(stretch.end)
    number = ceil(seconds * rate.a_second * _PER_FRAME)
    if whole:
        number = -(-number // _PIECES) * _PIECES
    while True:
        pieces = Timecode.of_frame(number // _PIECES * 2, rate).pieces()
        for piece in pieces[number % _PIECES :]:
            at = starts + number / (rate.a_second * _PER_FRAME) - seconds
            if ends is not None and at >= ends:
                return
            yield midi(at, Rank.CODE, piece)
            number += 1
