"""The practice host: a stand-in with a transport, a tempo map and markers, over real UDP."""

from bridge.practice.host import PracticeHost
from bridge.practice.serving import Program, Serving
from bridge.practice.state import Note, Rig
from bridge.practice.timeline import SongTimeline, SteadyTimeline, Timeline
from bridge.practice.weather import FAIR, Weather

__all__ = [
    "FAIR",
    "Note",
    "PracticeHost",
    "Program",
    "Rig",
    "Serving",
    "SongTimeline",
    "SteadyTimeline",
    "Timeline",
    "Weather",
]
