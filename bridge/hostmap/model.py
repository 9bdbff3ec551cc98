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
from bridge.hostmap.step import Reply, Step
from bridge.hostmap.template import Facts, Field, Filled, Template
from bridge.hostmap.unit import Unit

__all__ = ["Address", "Awaited", "Heard", "HostMap", "Names", "Ramps", "Said"]


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


class Names(StrEnum):
    """Whether two markers may have the same name in the host."""

    MANY = "many"
    ONCE = "once"
    """Placing a name that stands moves its marker."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One kind of message that the host sends: its address, and which argument means what."""

    address: str
    args: Mapping[str, int] = field(default_factory=dict)
    """By meaning ('id', 'at', 'name', 'top' ... or 'value'), the argument's index from 0."""
    unit: Unit | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Awaited:
    """The reply that a message waits for, with templates to be filled."""

    address: str
    args: tuple[Template, ...] = ()
    within: Fraction = Fraction(1, 4)
    tries: int = 1

    def fill(self, facts: Facts) -> Reply:
        """Return the reply that is awaited; CannotHoldError when a value does not fit."""
        message, _ = _filled(self.address, self.args, facts)
        return Reply(message.address, message.types, message.args, self.within, self.tries)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One message to the host, with templates to be filled, and what is waited for after it."""

    address: str
    args: tuple[Template, ...] = ()
    wait: Fraction = Fraction(0)
    """Seconds in which nothing is sent after it."""
    reply: Awaited | None = None

    @property
    def fields(self) -> tuple[Field, ...]:
        """All fields in its arguments."""
        return tuple(field for arg in self.args for field in arg.fields)

    def fill(self, facts: Facts) -> tuple[Message, tuple[Filled, ...]]:
        """Return the message with its fields filled in; CannotHoldError when a value does not fit."""
        return _filled(self.address, self.args, facts)

    def step(self, facts: Facts) -> tuple[Step, tuple[Filled, ...]]:
        """Return the message as a step of its deed, with its fields filled in; CannotHoldError."""
        message, filled = self.fill(facts)
        return Step(message, self.wait, None if self.reply is None else self.reply.fill(facts)), filled


def _filled(
    address: str, templates: tuple[Template, ...], facts: Facts
) -> tuple[Message, tuple[Filled, ...]]:
    args: list[object] = []
    every: list[Filled] = []
    for template in templates:
        if template.parts:
            arg, filled = template.fill(facts)
            args.append(arg)
            every.extend(filled)
    return Message(address, "".join(t.type for t in templates), tuple(args)), tuple(every)


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
    names: Names = Names.MANY
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
