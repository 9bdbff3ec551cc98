"""The song as one JSON object: markers as in the table, who sounds where, the meetings, the plan's cues.

Exact values are strings, measured ones doubles; what does not apply is null.  This file
knows nothing about how the rows are made.
"""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any, BinaryIO

from bridge.exact import show_number
from bridge.out.request import Request, Written, refuse_too_many_notes
from bridge.out.rows import marker_rows
from bridge.plan.cue import Send, SendController, SendProgram
from bridge.song import (
    AskedCue,
    Frame,
    Meeting,
    PlacedSection,
    asked_cues,
    full_meetings,
    landings,
    tightening_record,
)

__all__ = ["write"]


def write(frame: Frame, file: BinaryIO, request: Request) -> Written:
    """Write the object, in UTF-8, readable by people too; UsageError for meetings beyond number."""
    song = frame.song
    refuse_too_many_notes(song)
    rows = marker_rows(frame, request)
    meetings = [*full_meetings(song), *landings(song)]
    found = {
        "title": song.plan.title,
        "samples_per_second": request.samples_per_second,
        "ticks_per_quarter": request.ticks_per_quarter,
        "smpte_rate": request.smpte_rate,
        "total_bars": song.total_bars,
        "total_seconds": float(song.total_seconds),
        "markers": rows,
        "sections": [_section(placed) for placed in song.sections],
        "cues": [_cue(frame, asked) for asked in asked_cues(song)],
        "meetings": [_meeting(frame, one) for one in sorted(meetings, key=lambda one: one.place.whole_notes)],
    }
    file.write((json.dumps(found, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode())
    return Written(facts={"markers": len(rows), "meetings": len(meetings)})


def _section(placed: PlacedSection) -> dict[str, Any]:
    return {
        "name": placed.name,
        "start_bar": placed.first_bar,
        "end_bar": placed.last_bar,
        "resolved": placed.resolved,
        "layers": [
            {"name": part.layer.name, "turns": show_number(part.turns), "cycle": str(part.layer.cycle)}
            for part in placed.parts
        ],
        "tighten": tightening_record(placed),
        "vamp": placed.section.vamp is not None,
        "free": placed.section.free is not None,
    }


def _cue(frame: Frame, asked: AskedCue) -> dict[str, Any]:
    return {
        "at": str(frame.bar_beat(asked.place)),
        "seconds": float(frame.seconds(asked.place)),
        "section": frame.song.sections[asked.section].name,
        "for": asked.cue.player,
        "say": asked.cue.say,
        "send": [_message(send) for send in asked.cue.send],
        "sound": asked.cue.sound,
    }


def _message(send: Send) -> dict[str, Any]:
    if isinstance(send, SendProgram):
        return {"program": send.program, "channel": send.channel}
    if isinstance(send, SendController):
        return {"controller": send.controller, "value": send.value, "channel": send.channel}
    args = [float(arg) if isinstance(arg, Fraction) else arg for arg in send.args]
    return {"osc": [send.address, send.types, *args]}


def _meeting(frame: Frame, meeting: Meeting) -> dict[str, Any]:
    return {
        "at": str(frame.bar_beat(meeting.place)),
        "seconds": float(frame.seconds(meeting.place)),
        "layers": list(meeting.layers),
        "landing": meeting.landing,
    }
