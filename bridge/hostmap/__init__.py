"""What a host hears and says: the host map, its templates, its units."""

from bridge.hostmap.hearing import (
    Event,
    Handle,
    MarkerEnd,
    MarkerGone,
    MarkerHeard,
    MeterHeard,
    MeterMarkHeard,
    PlayingHeard,
    PositionHeard,
    RegionHeard,
    TempoHeard,
    TempoMarkHeard,
    Unusable,
    hear,
)
from bridge.hostmap.load import extends, load
from bridge.hostmap.message import Message, Number, read_number
from bridge.hostmap.model import Address, Awaited, Heard, HostMap, Names, Ramps, Said
from bridge.hostmap.pattern import matches
from bridge.hostmap.ruler import Ruler
from bridge.hostmap.schema import schema
from bridge.hostmap.step import Reply, Step, messages_of
from bridge.hostmap.template import CannotHoldError, Facts, Field, Filled, Template
from bridge.hostmap.unit import Measure, Unit

__all__ = [
    "Address",
    "Awaited",
    "CannotHoldError",
    "Event",
    "Facts",
    "Field",
    "Filled",
    "Handle",
    "Heard",
    "HostMap",
    "MarkerEnd",
    "MarkerGone",
    "MarkerHeard",
    "Measure",
    "Message",
    "MeterHeard",
    "MeterMarkHeard",
    "Names",
    "Number",
    "PlayingHeard",
    "PositionHeard",
    "Ramps",
    "RegionHeard",
    "Reply",
    "Ruler",
    "Said",
    "Step",
    "Template",
    "TempoHeard",
    "TempoMarkHeard",
    "Unit",
    "Unusable",
    "extends",
    "hear",
    "load",
    "matches",
    "messages_of",
    "read_number",
    "schema",
]
