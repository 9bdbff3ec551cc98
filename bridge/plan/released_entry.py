"""``vamp`` and ``free`` as they are written.

This file knows nothing about the section they stand in.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, ClassVar

from pydantic import Discriminator, Field, Tag

from bridge.exact import Span
from bridge.plan import values as take
from bridge.plan.entry import Entry
from bridge.plan.nodes import MapNode
from bridge.plan.released import Vamp

__all__ = ["FreeEntry", "VampEntry", "VampGiven", "vamp_of"]


class VampEntry(Entry):
    """A section that is held until it is released, and how long it lasts at least."""

    what: ClassVar[str] = "a vamp"
    instead: ClassVar[str] = "Write 'vamp: {at_least: 12 bars}', or 'vamp: true'."

    at_least: Annotated[Span, take.span("'at_least'")] = Field(examples=["12 bars", "0:30"])
    """Never planned shorter than this; the wish as well, where there is no other."""


class FreeEntry(Entry):
    """A passage without bars or click."""

    what: ClassVar[str] = "a free passage"
    instead: ClassVar[str] = "Write 'free: {about: \"0:45\"}'."

    about: Annotated[Fraction, take.time("'about'")] = Field(examples=["0:45"])
    """How long it lasts, as a time; the plan counts exactly so many seconds."""


def _vamp_kind(node: Any) -> str:
    return "group" if isinstance(node, MapNode) else "flag"


VampGiven = Annotated[
    Annotated[Annotated[bool, take.flag("'vamp'")], Tag("flag")] | Annotated[VampEntry, Tag("group")],
    Discriminator(_vamp_kind),
]


def vamp_of(given: bool | VampEntry | None) -> Vamp | None:
    """Return the vamp that is asked for; None where none is."""
    if isinstance(given, VampEntry):
        return Vamp(at_least=given.at_least)
    return Vamp() if given else None
