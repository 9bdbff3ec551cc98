"""What the conductor tells people of, in words: where the show is, and what happened to its host.

This file knows nothing about when it is told.
"""

from __future__ import annotations

from bridge.exact import Bars, Length
from bridge.follow import Event
from bridge.show.effect import Tell
from bridge.show.passing import Pass

__all__ = ["told_event", "told_section", "where"]


def told_section(passed: Pass, at: float) -> Tell:
    """Tell that a section begins, how long it lasts, and what comes then."""
    lasts = "until it is released" if passed.leaves is None else str(Bars(passed.placed.bars))
    if passed.is_free:
        lasts = f"without bars, {lasts}" if passed.leaves is None else "without bars"
    data = {
        "section": passed.name,
        "bars": passed.placed.bars,
        "held": passed.held,
        "next": passed.next_name,
    }
    return Tell(at=at, what="section", text=f"{passed.name}, {lasts}, then {passed.next_name}", data=data)


def told_event(event: Event) -> Tell:
    """Tell what a follower noticed of the host."""
    text = f"{event.source}: {event.what}" + (f" ({event.detail})" if event.detail else "")
    data = {"what": str(event.what), "source": str(event.source)}
    return Tell(at=event.at, what="host", text=text, data=data)


def where(passed: Pass, into: Length) -> str:
    """Write a place in a pass: ``bar 12 of Crossing``."""
    return f"bar {passed.axis.bar_at(into).number} of {passed.name}"
