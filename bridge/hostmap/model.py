"""A host map, read and understood: what a host hears from us and says to us.

This file knows nothing about YAML, sockets or songs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from bridge.errors import PlanError, Where
from bridge.hostmap.message import Message
from bridge.hostmap.template import Facts, Field, Filled, Template
from bridge.hostmap.unit import Unit

__all__ = ["Address", "Heard", "HostMap", "Ramps", "Said"]


@dataclass(frozen=True, slots=True)
class Address:
    """Where on the network: a name or an IP address, and a port."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"


class Ramps(StrEnum):
    """How the host bends its tempo across a ramp."""

    POSITION = "position"
    TIME = "time"
    STEPS = "steps"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One kind of message that the host sends: its address, and which argument means what."""

    address: str
    args: Mapping[str, int] = field(default_factory=dict)
    """By meaning ('id', 'at', 'name', 'top' ... or 'value'), the argument's index from 0."""
    unit: Unit | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One message to the host, with templates to be filled."""

    address: str
    args: tuple[Template, ...] = ()

    @property
    def fields(self) -> tuple[Field, ...]:
        """All fields in its arguments."""
        return tuple(field for arg in self.args for field in arg.fields)

    def fill(self, facts: Facts) -> tuple[Message, tuple[Filled, ...]]:
        """Return the message with its fields filled in; CannotHoldError when a value does not fit."""
        args: list[object] = []
        every: list[Filled] = []
        for template in self.args:
            arg, filled = template.fill(facts)
            args.append(arg)
            every.extend(filled)
        return Message(self.address, "".join(t.type for t in self.args), tuple(args)), tuple(every)


@dataclass(frozen=True, slots=True, kw_only=True)
class HostMap:
    """How one host speaks OSC."""

    name: str
    send_to: Address | None = None
    receive_on: Address | None = None
    hears: Mapping[str, Heard] = field(default_factory=dict)
    says: Mapping[str, tuple[Said, ...]] = field(default_factory=dict)
    pace: Fraction = Fraction(5, 1000)
    """Seconds: the least gap between messages sent."""
    ramps: Ramps = Ramps.POSITION
    where: Where | None = field(default=None, compare=False)

    def need(self, key: str, *, command: str) -> None:
        """Raise PlanError unless the map has ``key`` (``send_to``, ``says.place``, ``hears.marker`` ...)."""
        group, _, word = key.rpartition(".")
        found = getattr(self, group)[word] if group and word in getattr(self, group) else None
        if (found if group else getattr(self, key)) is None:
            raise PlanError(
                f"'{command}' needs {key!r}, which the host map {self.name!r} does not have",
                hint=f"Add {key!r} to the map; 'pulsebridge schema host' shows its shape.",
                where=self.where,
            )
