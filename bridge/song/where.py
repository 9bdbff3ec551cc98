"""A place as people say it: ``13``, ``13.3``, ``Landfall``, ``24 bars before Landfall``.

This file knows nothing about who asks or why.
"""

from __future__ import annotations

import re
from difflib import get_close_matches

from bridge.errors import UsageError
from bridge.exact import Place
from bridge.song.bars import BarBeat
from bridge.song.model import END, Song

__all__ = ["place_named"]

_NEAR = re.compile(r"([0-9]{1,7})\s+bars?\s+(before|after)\s+(.+)", re.ASCII | re.DOTALL)
_END_OF = re.compile(r"end\s+of\s+(.+)", re.ASCII | re.DOTALL | re.IGNORECASE)
_BAR = re.compile(r"(?:bar\s+)?(-?[0-9].*)", re.ASCII | re.DOTALL)


def place_named(song: Song, text: str) -> Place:
    """Return the place that ``text`` names, within the song or at its end.

    A section's name is its first barline, ``end of NAME`` its landing, ``End`` the
    song's.  A section's name goes before any other reading.  UsageError for what is
    neither, or lies outside the song.
    """
    place = _place(song, text.strip())
    if not Place(0) <= place <= song.end:
        raise UsageError(
            f"{text!r} is bar {song.bars.bar_beat(place)}, outside the song",
            hint=f"The song goes from bar 1 to the end of bar {song.total_bars}.",
        )
    return place


def _place(song: Song, text: str) -> Place:
    named = _marker(song, text)
    if named is not None:
        return named
    if match := _NEAR.fullmatch(text):
        bar = song.bars.bar_beat(_place(song, match[3].strip())).bar
        bars = int(match[1]) if match[2] == "after" else -int(match[1])
        return song.bars.start_of(bar + bars)
    if match := _END_OF.fullmatch(text):
        for placed in song.sections:
            if placed.name == match[1].strip():
                return placed.end
    if match := _BAR.fullmatch(text):
        return song.bars.place(BarBeat.parse(match[1]))
    raise _unknown(song, text)


def _marker(song: Song, text: str) -> Place | None:
    return next((marker.place for marker in song.markers if marker.name == text), None)


def _unknown(song: Song, text: str) -> UsageError:
    names = [marker.name for marker in song.markers]
    near = get_close_matches(text, names, n=1)
    meant = f"Did you mean {near[0]!r}? " if near else ""
    shown = ", ".join(names[:8]) + (", ..." if len(names) > 8 else "")
    return UsageError(
        f"no place in the song is called {text[:80]!r}; its sections are {shown}",
        hint=f"{meant}Write a bar (13 or 13.3), a section, 'end of NAME', or '24 bars before {END}'.",
    )
