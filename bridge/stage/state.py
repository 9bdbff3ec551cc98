"""Where the show stands, as the stage page needs it: small, and sent whenever something changes.

Lengths count in quarters from the section's start, as doubles.  Whoever has the song and
one of these can draw every moment after it: nothing has to be sent at each beat.  This
file knows nothing about the wire.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from bridge.cues import Axis, Rung
from bridge.exact import Length
from bridge.show import Line, View
from bridge.stage.description import quarters

__all__ = ["foreseen", "stated"]

_SAME_SECONDS = 0.002
"""A line that differs by less from the one sent before is not sent anew."""
_SAME_RATE = 0.002


def stated(view: View, song: str) -> dict[str, Any]:
    """Return ``view`` as JSON can hold it; ``song`` is the key of the song's description."""
    return {
        "at": view.at,
        "song": song,
        "number": view.number,
        "songs": list(view.songs),
        "section": view.section,
        "line": None if view.line is None else _line(view.line),
        "playing": view.playing,
        "locked": view.locked,
        "source": view.source,
        "bpm": view.bpm,
        "held": view.held,
        "leaves": _quarters(view.leaves),
        "follows": view.follows,
        "ladder": [_rung(rung) for rung in view.ladder],
        "waits": view.waits,
        "cue": (
            {"text": view.cue, "player": view.cue_for, "at": view.cue_at}
            if view.cue and view.cue_at is not None
            else None
        ),
        "offer": view.offer,
        "dropped": view.dropped,
        "late": view.late,
    }


def foreseen(before: View | None, now: View) -> bool:
    """Tell whether whoever knows ``before`` draws the same as from ``now``: only time has passed."""
    return before is not None and _settled(before) == _settled(now) and _same_line(before, now)


def _settled(view: View) -> tuple[object, ...]:
    return (
        id(view.song),
        view.number,
        view.section,
        view.playing,
        view.locked,
        view.source,
        view.held,
        view.leaves,
        view.follows,
        view.ladder,
        view.waits,
        view.cue,
        view.cue_for,
        view.cue_at,
        view.offer,
        view.dropped,
        view.late,
    )


def _same_line(before: View, now: View) -> bool:
    """Compare the two at the later one's time; between them the plan's tempo is near enough its middle."""
    old, new = before.line, now.line
    if old is None or new is None:
        return old is new
    if not now.playing:
        return old.quarters == new.quarters
    if now.section is None or abs(old.rate - new.rate) > _SAME_RATE * old.rate:
        return False
    middle = Length(Fraction(old.quarters + new.quarters) / 8)
    a_quarter = 60 / float(Axis(now.song, now.section).bpm(middle))
    passed = (new.quarters - old.quarters) * a_quarter
    return abs(passed - (new.at - old.at) * old.rate) < _SAME_SECONDS


def _line(line: Line) -> dict[str, float]:
    return {"at": line.at, "quarters": line.quarters, "rate": line.rate}


def _rung(rung: Rung) -> dict[str, Any]:
    return {
        "into": quarters(rung.into),
        "bar": rung.bar,
        "home": list(rung.home),
        "others": list(rung.others),
    }


def _quarters(length: Length | None) -> float | None:
    return None if length is None else quarters(length)
