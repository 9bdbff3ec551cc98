"""The solved song unrolled: the shared list of places that everything later writes from."""

from bridge.song.asked_cues import AskedCue, LostCue, asked_cues, asked_in, lost_cues
from bridge.song.bars import Bar, BarBeat, Barlines
from bridge.song.beats import counted_in, counted_rows
from bridge.song.frame import Frame, bars_counted_in
from bridge.song.gathering import Gathering, gathering, gathering_in
from bridge.song.host import HostCount
from bridge.song.meetings import Meeting, full_meetings, landings
from bridge.song.model import END, Marker, Onset, Part, PlacedSection, Song
from bridge.song.note_row import NoteRow
from bridge.song.pulse import pulse_rows
from bridge.song.record import solution_record, tightening_record
from bridge.song.telling import counted_turns, cue_in_words, left_open, stages_in_words
from bridge.song.unroll import unroll
from bridge.song.where import place_named

__all__ = [
    "END",
    "AskedCue",
    "Bar",
    "BarBeat",
    "Barlines",
    "Frame",
    "Gathering",
    "HostCount",
    "LostCue",
    "Marker",
    "Meeting",
    "NoteRow",
    "Onset",
    "Part",
    "PlacedSection",
    "Song",
    "asked_cues",
    "asked_in",
    "bars_counted_in",
    "counted_in",
    "counted_rows",
    "counted_turns",
    "cue_in_words",
    "full_meetings",
    "gathering",
    "gathering_in",
    "landings",
    "left_open",
    "lost_cues",
    "place_named",
    "pulse_rows",
    "solution_record",
    "stages_in_words",
    "tightening_record",
    "unroll",
]
