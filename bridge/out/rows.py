"""The markers as rows of a table: what ``.csv`` and ``.json`` hold.

This file knows nothing about either format.
"""

from __future__ import annotations

from typing import Any

from bridge.exact import samples, show_number, ticks
from bridge.out.request import Request
from bridge.out.smpte import smpte
from bridge.song import Frame, Marker

__all__ = ["COLUMNS", "marker_rows"]

COLUMNS = (
    "number",
    "name",
    "bar",
    "beat",
    "seconds",
    "samples",
    "ticks",
    "smpte",
    "quarters",
    "bpm",
    "meter",
    "bars",
    "lasts_seconds",
    "letter",
    "note",
    "pickup",
    "count_in_bars",
)


def marker_rows(frame: Frame, request: Request) -> list[dict[str, Any]]:
    """Return one row a marker, in order; None where something does not apply (the End lasts nothing)."""
    return [_row(frame, marker, request) for marker in frame.song.markers]


def _row(frame: Frame, marker: Marker, request: Request) -> dict[str, Any]:
    song = frame.song
    placed = None if marker.section is None else song.sections[marker.section]
    at, seconds = frame.bar_beat(marker.place), frame.seconds(marker.place)
    quarters = frame.quarters(marker.place)
    return {
        "number": marker.index + 1,
        "name": marker.name,
        "bar": at.bar,
        "beat": at.beat,
        "seconds": float(seconds),
        "samples": samples(seconds, request.samples_per_second),
        "ticks": ticks(marker.place - frame.zero, request.ticks_per_quarter),
        "smpte": smpte(seconds, request.smpte_rate),
        "quarters": show_number(quarters),
        "bpm": show_number(song.tempo_map.bpm(marker.place)),
        "meter": str(song.bars.bar_at(marker.place).meter),
        "bars": placed.bars if placed else None,
        "lasts_seconds": float(frame.seconds(placed.end) - seconds) if placed else None,
        "letter": placed.section.letter if placed else None,
        "note": placed.section.note if placed else None,
        "pickup": str(placed.section.pickup) if placed and placed.section.pickup else None,
        "count_in_bars": (placed.section.count_in or None) if placed else None,
    }
