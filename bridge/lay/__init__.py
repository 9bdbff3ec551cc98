"""Place the plan's markers in a host: what differs, what to send, whose marker is it. Pure."""

from bridge.lay.blind import BlindLaying
from bridge.lay.compare import Transport, difference
from bridge.lay.dry import dry_run
from bridge.lay.effect import Effect, Say, Send, Write
from bridge.lay.machine import Laying
from bridge.lay.options import Options
from bridge.lay.record import Entry, State, read_record, record_key, write_record
from bridge.lay.result import Failure, Result
from bridge.lay.wanted import Wanted, want

__all__ = [
    "BlindLaying",
    "Effect",
    "Entry",
    "Failure",
    "Laying",
    "Options",
    "Result",
    "Say",
    "Send",
    "State",
    "Transport",
    "Wanted",
    "Write",
    "difference",
    "dry_run",
    "read_record",
    "record_key",
    "want",
    "write_record",
]
