"""Layers as they are written: what repeats, who of them sounds in a section, what is other there.

The groups of keys only; what they come to is worked out in :mod:`bridge.plan.layers`.  This
file knows nothing about lengths of sections.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, ConfigDict, Discriminator, Field, Tag

from bridge.craft.pattern import Pattern
from bridge.errors import PlanError
from bridge.exact import Bars, Length, parse_whole
from bridge.plan import values as take
from bridge.plan.entry import Entry
from bridge.plan.nodes import MapNode, Node, TextNode
from bridge.plan.patterns import one_voice
from bridge.plan.values import Reads, Word

__all__ = ["MAX_PULSES", "ChangeEntry", "CycleEntry", "LayerEntry", "Soundings"]

MAX_PULSES = 10_000
_BAR = re.compile(r"bar\s+([0-9]+)", re.ASCII)

_HOW = (
    "{cycle: 3/16}, {groups: [3, 3, 2], unit: 1/8}, {pulses: 5, over: 1 bar}"
    " or {pattern: x..x..x., unit: 1/8}"
)


def _number_of_bar(digits: str, node: Node) -> int:
    try:
        return parse_whole(digits, what="a bar")
    except PlanError as error:
        raise error.at(node.where) from None


def into_section(what: str) -> Reads:
    """Make a field for a place in a section, read as what of it comes before: bars, or a length."""
    length = take.cycle(what)

    def read(node: Node) -> Bars | Length:
        found = _BAR.fullmatch(node.text.strip()) if isinstance(node, TextNode) else None
        if found is None:
            before: Bars | Length = length.read(node)
            return before
        bar = _number_of_bar(found[1], node)
        if bar < 2:
            raise PlanError(
                f"{what} cannot be bar {bar}: the section begins at bar 1",
                hint="Leave it out: a layer that is named sounds from the start of the section.",
                where=node.where,
            )
        return Bars(bar - 1)

    pattern = r"^\s*([0-9]+\s*/\s*[0-9]+|[0-9]+\.[0-9]+|[0-9]+\s*bars?|bar\s+[0-9]+)\s*$"
    return Reads(read, {**length.schema, "pattern": pattern})


class CycleEntry(Entry):
    """A cycle, in one of the ways to give it; which of the keys go together is seen later."""

    cycle: Annotated[Length | Bars, take.cycle("a cycle")] | None = Field(
        default=None, examples=["3/16", "4 bars"]
    )
    """The length after which it repeats: whole notes (3/16) or bars."""
    groups: Annotated[tuple[int, ...], take.wholes("group")] | None = Field(
        default=None, examples=[[3, 3, 2]]
    )
    """Accent groups, in units; the cycle is their sum."""
    unit: Annotated[Length, take.note("the unit")] | None = Field(default=None, examples=["1/8"])
    """The unit that the groups count, or each step of the pattern, in whole notes."""
    pulses: Annotated[int, take.whole("pulses", most=MAX_PULSES)] | None = Field(default=None, examples=[5])
    """So many evenly spaced pulses fill the cycle."""
    over: Annotated[Length | Bars, take.cycle("'over'")] | None = Field(
        default=None, examples=["1 bar", "3/4"]
    )
    """The cycle that the pulses fill."""
    pattern: Annotated[Pattern, one_voice()] | None = Field(default=None, examples=["x..x..x."])
    """Who hits when: x (or X) a note, . nothing, | and spaces for the eye; the cycle is its steps."""


class LayerEntry(CycleEntry):
    """A part that repeats: exactly one of cycle, groups with unit, pulses with over, pattern with unit."""

    model_config = ConfigDict(
        json_schema_extra={
            "oneOf": [
                {"required": ["cycle"]},
                {"required": ["groups", "unit"]},
                {"required": ["pulses", "over"]},
                {"required": ["pattern", "unit"]},
            ],
            "dependentRequired": {
                "groups": ["unit"],
                "pulses": ["over"],
                "over": ["pulses"],
                "pattern": ["unit"],
            },
            "dependentSchemas": {"unit": {"anyOf": [{"required": ["groups"]}, {"required": ["pattern"]}]}},
        }
    )
    what: ClassVar[str] = "a layer"
    instead: ClassVar[str] = f"Write {_HOW}."

    start: Annotated[Length, take.note("a start", zero=True)] = Field(default=Length(0), examples=["1/4"])
    """How long after it enters it is first home, in whole notes."""
    rate: Annotated[Fraction, take.number("a rate")] = Field(default=Fraction(1), examples=["73/72"])
    """How many times as fast it plays: 73/72 drifts against the others."""
    player: Annotated[Word, take.name("a player")] | None = Field(default=None, examples=["percussion"])
    """Who plays it; one player may own several layers."""


def _none_of(*keys: str) -> dict[str, Any]:
    return {"not": {"anyOf": [{"required": [key]} for key in keys]}}


class ChangeEntry(CycleEntry):
    """What is other about a layer in one section; whatever is not given stays as it is."""

    model_config = ConfigDict(
        json_schema_extra={
            "minProperties": 1,
            "dependentRequired": {
                "groups": ["unit"],
                "pulses": ["over"],
                "over": ["pulses"],
                "pattern": ["unit"],
            },
            "dependentSchemas": {
                "unit": {"anyOf": [{"required": ["groups"]}, {"required": ["pattern"]}]},
                "cycle": _none_of("groups", "unit", "pulses", "over", "pattern"),
                "groups": _none_of("pulses", "pattern"),
                "pattern": _none_of("pulses"),
            },
        }
    )
    what: ClassVar[str] = "what is other about a layer in a section"
    instead: ClassVar[str] = (
        f"For its cycle write {_HOW}; for when it sounds {{enters: bar 5}} or {{leaves: 4 bars}}."
    )
    elsewhere: ClassVar[Mapping[str, str]] = {
        "player": "A layer keeps its player: write it under 'layers' at the top of the plan."
    }

    start: Annotated[Length, take.note("a start", zero=True)] | None = Field(default=None, examples=["1/4"])
    """How long after it enters it is first home, in whole notes."""
    rate: Annotated[Fraction, take.number("a rate")] | None = Field(default=None, examples=["73/72"])
    """How many times as fast it plays."""
    enters: Annotated[Bars | Length, into_section("'enters'")] | None = Field(
        default=None, examples=["bar 5", "4 bars", "5/8"]
    )
    """Where in the section it comes in: at 'bar 5', or after '4 bars' or 5/8; its time counts from there."""
    leaves: Annotated[Bars | Length, into_section("'leaves'")] | None = Field(
        default=None, examples=["bar 9", "8 bars", "5/8"]
    )
    """Where in the section it falls silent: at 'bar 9', or after '8 bars' or 5/8."""


def _names(node: Node) -> tuple[Node, ...]:
    """Return the items of a section's layers: names, or one name each with what is other; each name once."""
    items = take.items(node, "layers").items
    seen: set[str] = set()
    for item in items:
        if isinstance(item, MapNode):
            _refuse_more_than_one(item)
            item = item.entries[0][0]  # noqa: PLW2901  the name stands for its group
        if isinstance(item, TextNode):
            if item.text.strip() in seen:
                raise PlanError(
                    f"{item.text.strip()!r} is named twice", hint="Keep one of the two.", where=item.where
                )
            seen.add(item.text.strip())
    return items


def _refuse_more_than_one(item: MapNode) -> None:
    if len(item.entries) != 1:
        raise PlanError(
            f"a layer with what is other about it is one name, not {len(item.entries)} keys",
            hint="Write each in braces of its own, as in [{hand drum: {cycle: 5/8}}, band].",
            where=item.where,
        )


def _by_name(node: MapNode) -> dict[Node, Node]:
    return dict(node.entries)


def _kind_of_item(node: Any) -> str:
    return "other" if isinstance(node, MapNode) else "name"


Soundings = Annotated[
    tuple[
        Annotated[
            Annotated[Annotated[Word, take.name("a layer")], Tag("name")]
            | Annotated[
                Annotated[
                    dict[Annotated[Word, take.name("a layer")], ChangeEntry],
                    Field(min_length=1, max_length=1),
                    BeforeValidator(_by_name),
                ],
                Tag("other"),
            ],
            Discriminator(_kind_of_item),
        ],
        ...,
    ],
    BeforeValidator(_names),
]
"""Who sounds in a section: a name, or a name with what is other about it."""
