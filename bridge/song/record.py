"""The solution as a record of plain values: what ``plan --json`` prints and ``--keep`` keeps.

This file knows nothing about files; measured numbers become doubles here, last of all.
"""

from __future__ import annotations

from typing import Any

from bridge.craft.stages import written
from bridge.exact import show_number
from bridge.shape.outcome import Solved
from bridge.song.asked_cues import LostCue, lost_cues
from bridge.song.model import PlacedSection, Song

__all__ = ["solution_record", "tightening_record"]


def solution_record(song: Song, solved: Solved) -> dict[str, Any]:
    """Return the JSON object of a solved plan, in the names of the contract."""
    return {
        "title": song.plan.title,
        "tempo": None if solved.tempo is None else show_number(solved.tempo),
        "sections": [_section(song, placed) for placed in song.sections],
        "total_bars": song.total_bars,
        "total_seconds": float(song.total_seconds),
        "cost": float(solved.cost),
        "proven": solved.proven,
        "gap": float(solved.gap),
        "lost_cues": [_lost(song, lost) for lost in lost_cues(song)],
    }


def _section(song: Song, placed: PlacedSection) -> dict[str, Any]:
    start, end = song.seconds(placed.start), song.seconds(placed.end)
    return {
        "name": placed.name,
        "start_bar": placed.first_bar,
        "end_bar": placed.last_bar,
        "bars": placed.bars,
        "start_seconds": float(start),
        "seconds": float(end - start),
        "resolved": placed.resolved,
        "turns": {part.layer.name: show_number(part.turns) for part in placed.parts},
        "tighten": tightening_record(placed),
        "vamp": placed.section.vamp is not None,
        "free": placed.section.free is not None,
    }


def _lost(song: Song, lost: LostCue) -> dict[str, Any]:
    """Return a cue that falls nowhere: which, why, and its line in the plan file."""
    return {
        "section": song.sections[lost.section].name,
        "at": str(lost.cue.at),
        "say": lost.cue.say,
        "why": lost.why,
        "line": lost.where.line if lost.where else None,
    }


def tightening_record(placed: PlacedSection) -> dict[str, Any] | None:
    """Return who tightens towards the section's end, and the turns of each cycle; None where nobody does."""
    for part in placed.parts:
        if part.tightened is not None:
            cycles = written(part.tightened.asked.cycles)
            stages = zip(cycles, part.tightened.stages, strict=True)
            return {
                "layer": part.layer.name,
                "bars": part.tightened.bars,
                "stages": [{"cycle": cycle, "turns": stage.turns} for cycle, stage in stages],
            }
    return None
