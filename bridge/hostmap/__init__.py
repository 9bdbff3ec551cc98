"""What a host hears and says: the host map, its templates, its units."""

from bridge.hostmap.hearing import (
    Event,
    Handle,
    MarkerEnd,
    MarkerGone,
    MarkerHeard,
    MeterHeard,
    PlayingHeard,
    PositionHeard,
    TempoHeard,
    Unusable,
    hear,
)
from bridge.hostmap.load import load
from bridge.hostmap.message import Message, Number, read_number
from bridge.hostmap.model import Address, Heard, HostMap, Ramps, Said
from bridge.hostmap.pattern import matches
from bridge.hostmap.ruler import Ruler
from bridge.hostmap.schema import schema
from bridge.hostmap.template import CannotHoldError, Facts, Field, Filled, Template
from bridge.hostmap.unit import Measure, Unit

__all__ = [
    "Address",
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
    "Number",
    "PlayingHeard",
    "PositionHeard",
    "Ramps",
    "Ruler",
    "Said",
    "Template",
    "TempoHeard",
    "Unit",
    "Unusable",
    "hear",
    "load",
    "matches",
    "read_number",
    "schema",
]
