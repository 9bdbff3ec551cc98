"""What a bridge is started with.

This file knows no options of a command line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from bridge.follow import Source
from bridge.hostmap import Address, HostMap
from bridge.live.feet import Feet
from bridge.live.inputs import MidiChoice
from bridge.osc.sender import Destination

__all__ = ["LISTEN", "Settings"]

LISTEN = Address("127.0.0.1", 9010)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The ports, the files and the feet of one bridge."""

    what: str
    """The command: follow or lead."""
    title: str = ""
    plans: tuple[Path, ...] = ()
    """The plan files, in the order of the set: watched for being saved."""
    tempi: Mapping[Path, Fraction] = field(default_factory=dict)
    """Those that were chosen where a plan leaves its tempo open."""
    host: HostMap | None = None
    midi: MidiChoice | None = None
    """Where the host's clock comes in."""
    delays: Mapping[Source, float] = field(default_factory=dict)
    cues_to: tuple[Destination, ...] = ()
    cues_midi: MidiChoice | None = None
    listen: Address | None = LISTEN
    """Where controls come in; None: nowhere."""
    token: str = ""
    """What a control from another machine ends with."""
    feet: Feet = field(default_factory=lambda: Feet(feet=[]))
    foot_midi: MidiChoice | None = None
    """Where pedals come in, where that is not ``midi``."""
    journal: Path | None = None
    log: Path | None = None
    effort: int | None = None
    """Steps the planner may take."""
