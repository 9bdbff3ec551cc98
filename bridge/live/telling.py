"""How a show looks, as a record for programs and as one line for people.

This file knows nothing about terminals: whoever shows the line cuts it to size.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from bridge.cues import Axis, Rung
from bridge.exact import Length, show_number
from bridge.show import View

__all__ = ["status_line", "view_record"]


def view_record(view: View) -> dict[str, Any]:
    """Return the show as a program reads it; what does not apply is null."""
    axis, into = _where(view)
    section = None if axis is None else axis.placed
    leaves = _bars_left(view, axis, into)
    names = [placed.name for placed in view.song.sections]
    return {
        "song": view.song.plan.title,
        "songs": list(view.songs),
        "section": section.name if section else None,
        "bar": axis.bar_at(into).number if axis and into is not None else None,
        "bars": section.bars if section else None,
        "bars_left": leaves,
        "next": names[view.follows] if view.follows is not None else None,
        "playing": view.playing,
        "locked": view.locked,
        "source": None if view.source is None else str(view.source),
        "bpm": view.bpm,
        "held": view.held,
        "waits": view.waits,
        "ladder": [_rung(rung, axis, into) for rung in view.ladder],
        "cue": view.cue or None,
        "cue_for": view.cue_for or None,
        "offer": view.offer or None,
        "dropped": view.dropped,
        "late": view.late,
    }


def status_line(view: View) -> str:
    """Write the show in one line: where it is, what comes, whether it is held."""
    axis, into = _where(view)
    if axis is None or into is None:
        return f"{view.song.plan.title}: waiting for the host to play"
    bar, section = axis.bar_at(into).number, axis.placed
    left = _bars_left(view, axis, into)
    names = [placed.name for placed in view.song.sections]
    following = names[view.follows] if view.follows is not None else "the end"
    moving = "" if view.playing else ("waits for a release, " if view.waits else "stopped, ")
    count = f"bar {bar}" if view.held else f"bar {bar} of {section.bars}"
    coming = "held until it is released" if left is None else f"{following} in {left}"
    tempo = "" if view.bpm is None else f", {view.bpm:.1f} bpm"
    doubt = "" if view.locked or not view.playing else " (not sure)"
    return f"{moving}{section.name} {count}, {coming}{tempo}{doubt}"


def _where(view: View) -> tuple[Axis | None, Length | None]:
    if view.section is None or view.line is None:
        return None, None
    quarters = view.line.quarters
    return Axis(view.song, view.section), Length(Fraction(round(quarters * 2**20), 2**22))


def _bars_left(view: View, axis: Axis | None, into: Length | None) -> int | None:
    """Return the bars until it is left, the one that is played included."""
    if axis is None or into is None or view.leaves is None:
        return None
    return max(axis.bar_at(view.leaves).number - axis.bar_at(into).number, 0)


def _rung(rung: Rung, axis: Axis | None, into: Length | None) -> dict[str, Any]:
    here = axis.bar_at(into).number if axis and into is not None else None
    return {
        "bar": rung.bar,
        "in_bars": None if here is None else rung.bar - here + 1,
        "whole_notes": show_number(rung.into.whole_notes),
        "home": list(rung.home),
        "others": list(rung.others),
    }
