"""The solved song unrolled: the shared list of places that everything later writes from."""

from bridge.song.bars import Bar, BarBeat, Bars
from bridge.song.host import HostCount
from bridge.song.model import END, Marker, Onset, Part, PlacedSection, Song
from bridge.song.record import solution_record
from bridge.song.unroll import unroll

__all__ = [
    "END",
    "Bar",
    "BarBeat",
    "Bars",
    "HostCount",
    "Marker",
    "Onset",
    "Part",
    "PlacedSection",
    "Song",
    "solution_record",
    "unroll",
]
