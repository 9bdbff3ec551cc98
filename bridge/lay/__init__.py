"""Place the plan's markers in a host: what differs, what to send, whose marker is it. Pure."""

from bridge.lay.blind import BlindLaying
from bridge.lay.compare import Transport, difference
from bridge.lay.dry import dry_run
from bridge.lay.effect import Effect, Say, Send, Write
from bridge.lay.machine import Laying
from bridge.lay.options import Options
from bridge.lay.pull import Pulling
from bridge.lay.read_back import Difference, ReadBack, Standing, read_back
from bridge.lay.record import Entry, State, read_record, record_key, write_record
from bridge.lay.result import Failure, Result
from bridge.lay.speaking import Speaking, steps_of
from bridge.lay.timeline import AFTER, BEFORE, Kind, Part, part
from bridge.lay.wanted import Wanted, want

__all__ = [
    "AFTER",
    "BEFORE",
    "BlindLaying",
    "Difference",
    "Effect",
    "Entry",
    "Failure",
    "Kind",
    "Laying",
    "Options",
    "Part",
    "Pulling",
    "ReadBack",
    "Result",
    "Say",
    "Send",
    "Speaking",
    "Standing",
    "State",
    "Transport",
    "Wanted",
    "Write",
    "difference",
    "dry_run",
    "part",
    "read_back",
    "read_record",
    "record_key",
    "steps_of",
    "want",
    "write_record",
]
