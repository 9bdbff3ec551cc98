"""A song as the stage page needs it: everything that it draws from, told once for each version.

Positions and lengths within a section count in quarters from its start, as doubles; a cycle
also stands as exact text in whole notes.  Seconds come from the song's tempo map.  This
file knows nothing about the wire, and nothing about where the show stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bridge.cues import Standing, Turner
from bridge.exact import Length
from bridge.plan.model import players_of
from bridge.song import PlacedSection, Song, gathering_in

__all__ = ["described", "quarters"]

FORMAT = 1


def quarters(length: Length) -> float:
    """Return ``length`` in quarters."""
    return float(length.quarters)


def described(song: Song) -> Iterator[dict[str, Any]]:
    """Walk through the description in pieces: the song itself, then each of its sections.

    In pieces, so that a running bridge can see to other things in between.
    """
    yield {
        "format": FORMAT,
        "title": song.plan.title,
        "bars": song.total_bars,
        "seconds": float(song.total_seconds),
        "players": [
            {"name": name, "layers": list(layers)} for name, layers in players_of(song.plan.layers).items()
        ],
        "layers": list(song.plan.layers),
    }
    for index, placed in enumerate(song.sections):
        yield _section(song, index, placed)


def _section(song: Song, index: int, placed: PlacedSection) -> dict[str, Any]:
    section, start = placed.section, song.seconds(placed.start)
    standing = Standing(song, index)
    return {
        "name": placed.name,
        "letter": section.letter,
        "note": section.note,
        "bars": placed.bars,
        "first_bar": placed.first_bar,
        "length": quarters(placed.length),
        "starts_seconds": float(start),
        "lasts_seconds": float(song.seconds(placed.end) - start),
        "tempo": [float(section.tempo.start), float(section.tempo.end)],
        "meters": [
            {"name": str(meter), "beats": [quarters(beat) for beat in meter.counted]}
            for meter in section.meters.row
        ],
        "energy": [float(level) for level in section.energy],
        "vamp": section.vamp is not None,
        "free": list(section.free.layers) if section.free is not None else None,
        "runs_on": section.runs_on,
        "resolve": list(section.resolve),
        "resolved": placed.resolved,
        "layers": [_layer(turner, placed) for turner in standing.turners],
        "gather": list(standing.gather),
        "meetings": _meetings(placed),
        "lands": _lands(standing),
        "beyond": _beyond(standing),
    }


def _layer(turner: Turner, placed: PlacedSection) -> dict[str, Any]:
    return {
        "name": turner.name,
        "player": turner.player,
        "begun": None if turner.begun is None else quarters(turner.begun),
        "until": None if turner.until is None else quarters(turner.until),
        "pieces": [
            {
                "start": quarters(piece.start),
                "end": None if piece.end is None else quarters(piece.end),
                "first": quarters(piece.first),
                "cycle": quarters(piece.step),
                "exact": str(piece.step),
                "words": _in_words(piece.step, placed),
            }
            for piece in turner.pieces
        ],
    }


def _in_words(turn: Length, placed: PlacedSection) -> str:
    """Write a turn as players say it: in bars where it is whole bars of the section's meter."""
    bars = placed.section.meters.bars_in(turn)
    return str(turn) if bars is None else "bar" if bars == 1 else f"{bars} bars"


def _meetings(placed: PlacedSection) -> dict[str, Any] | None:
    """Tell where all are home within the section: a row up to ``until``, then single places."""
    found = gathering_in(placed)
    if found is None:
        return None
    start = placed.start
    return {
        "first": quarters(found.first - start),
        "every": quarters(found.every),
        "until": None if found.until is None else quarters(found.until - start),
        "then": [quarters(place - start) for place in found.then],
    }


def _lands(standing: Standing) -> bool:
    """Tell whether all who are meant by 'all' are home at the planned end."""
    asked = [turner for turner in standing.turners if turner.name in standing.gather]
    end = standing.placed.length
    return len(asked) > 1 and all(turner.until is None and turner.is_home(end) for turner in asked)


def _beyond(standing: Standing) -> dict[str, float] | None:
    """Tell where they meet past the planned end, while the section is held."""
    first = standing.meeting_after(standing.placed.length, held=True)
    if first is None:
        return None
    second = standing.meeting_after(first, held=True)
    return None if second is None else {"first": quarters(first), "every": quarters(second - first)}
