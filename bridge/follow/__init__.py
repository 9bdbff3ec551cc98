"""Where is the host now?  MIDI clock, song position, time code and OSC: one transport state."""

from bridge.follow.clock import ClockSource
from bridge.follow.expected import Expected
from bridge.follow.follower import Follower
from bridge.follow.reported import ReportedSource
from bridge.follow.scale import PlainScale, PlanScale, Scale
from bridge.follow.stream import Stream
from bridge.follow.timecode import RATES, Rate, Timecode
from bridge.follow.timecode_source import TimecodeSource
from bridge.follow.transport import Event, Happened, Source, Transport

__all__ = [
    "RATES",
    "ClockSource",
    "Event",
    "Expected",
    "Follower",
    "Happened",
    "PlainScale",
    "PlanScale",
    "Rate",
    "ReportedSource",
    "Scale",
    "Source",
    "Stream",
    "Timecode",
    "TimecodeSource",
    "Transport",
]
