"""A tempo as it is written: a number, with a beat, a ramp, a metric modulation, a range.

This file knows nothing about what a tempo refers to.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, ClassVar

from pydantic import Discriminator, Field, Tag

from bridge.errors import PlanError
from bridge.exact import FASTEST, SLOWEST, Length
from bridge.plan import values as take
from bridge.plan.entry import Entry
from bridge.plan.nodes import MapNode, Node, TextNode, kind_of
from bridge.plan.values import Reads

__all__ = ["BeatTempo", "PivotTempo", "RampTempo", "RangeTempo", "SongTempo", "TempoEntry"]

_ABOVE_0 = {"exclusiveMinimum": 0}


class BeatTempo(Entry):
    """So many beats a minute, the beat named."""

    what: ClassVar[str] = "a tempo with a beat"

    beat: Annotated[Length, take.note("the beat")] = Field(examples=["3/8", "1/4"])
    """The note that is counted, in whole notes: 3/8 is a dotted quarter."""
    bpm: Annotated[Fraction, take.number("bpm", zero=True, limits=_ABOVE_0)] = Field(examples=[80])
    """Beats a minute."""


class RampTempo(Entry):
    """Faster or slower, linear in musical position across the section."""

    what: ClassVar[str] = "a tempo ramp"

    from_: Annotated[Fraction, take.number("'from'", zero=True, limits=_ABOVE_0)] = Field(
        alias="from", examples=[96]
    )
    """Beats a minute at the section's start."""
    to: Annotated[Fraction, take.number("'to'", zero=True, limits=_ABOVE_0)] = Field(examples=[132])
    """Beats a minute at the section's end."""
    beat: Annotated[Length, take.note("the beat")] | None = Field(default=None, examples=["3/8"])
    """The note that is counted, in whole notes; the quarter unless named."""


class PivotTempo(Entry):
    """A metric modulation: an old note takes the time of a new one."""

    what: ClassVar[str] = "a metric modulation"

    pivot: Annotated[Length, take.note("the pivot")] = Field(examples=["3/16"])
    """The note of the tempo at the end of the section before."""
    becomes: Annotated[Length, take.note("'becomes'")] = Field(examples=["1/4"])
    """The note of the new tempo that lasts as long."""


def _pair(what: str) -> Reads:
    """Make a field for exactly two numbers above 0."""
    one = take.number(f"a number of {what}")

    def read(node: Node) -> tuple[Fraction, Fraction]:
        both = take.items(node, what).items
        if len(both) != 2:
            raise PlanError(
                f"{what} is two numbers, not {len(both)}",
                hint="Write the lower, then the higher.",
                where=node.where,
            )
        return one.read(both[0]), one.read(both[1])

    return Reads(read, {"type": "array", "items": one.schema, "minItems": 2, "maxItems": 2})


class RangeTempo(Entry):
    """The tempi that would do for the whole song; the planner chooses one, to a tenth."""

    what: ClassVar[str] = "a tempo range"
    instead: ClassVar[str] = "Write it as 'tempo: {between: [108, 118]}'."

    between: Annotated[tuple[Fraction, Fraction], _pair("'between'")] = Field(examples=[[108, 118]])
    """The slowest and the fastest, in quarter notes a minute."""


def _tempo_kind(node: Any) -> str:
    if isinstance(node, TextNode):
        return "number"
    if not isinstance(node, MapNode):
        raise PlanError(
            f"a tempo is a number or a group of keys, not {kind_of(node)}",
            hint="Write 115.2, {beat: 3/8, bpm: 80}, {from: 96, to: 132} or {pivot: 3/16, becomes: 1/4}.",
            where=node.where,
        )
    keys = {key.text for key, _ in node}
    if keys & {"pivot", "becomes"}:
        return "pivot"
    if "between" in keys:
        return "range"
    return "ramp" if keys & {"from", "to"} else "beat"


def _section_tempo_kind(node: Any) -> str:
    kind = _tempo_kind(node)
    if kind == "range":
        raise PlanError(
            "a tempo range is for the whole song; a section has a tempo of its own, or the song's",
            hint="Write 'tempo: {between: ...}' at the top of the plan, and a tempo or none here.",
            where=node.where,
        )
    return kind


_TEMPO_LIMITS = {"minimum": int(SLOWEST), "maximum": int(FASTEST)}
TempoEntry = Annotated[
    Annotated[Fraction, take.number("a tempo", zero=True, limits=_TEMPO_LIMITS), Tag("number")]
    | Annotated[BeatTempo, Tag("beat")]
    | Annotated[RampTempo, Tag("ramp")]
    | Annotated[PivotTempo, Tag("pivot")],
    Discriminator(_section_tempo_kind),
]
SongTempo = Annotated[
    Annotated[Fraction, take.number("a tempo", zero=True, limits=_TEMPO_LIMITS), Tag("number")]
    | Annotated[BeatTempo, Tag("beat")]
    | Annotated[RampTempo, Tag("ramp")]
    | Annotated[PivotTempo, Tag("pivot")]
    | Annotated[RangeTempo, Tag("range")],
    Discriminator(_tempo_kind),
]
