"""The plan file as it is written: one pydantic model for each group of keys.

They hold exact values and names that nobody has looked up yet; what the names refer
to, and what the values mean together, is worked out in :mod:`bridge.plan.understand`.
The docstring under each field is what an editor shows.  This file knows nothing about
YAML.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, ConfigDict, Discriminator, Field, Tag
from pydantic.config import JsonDict

from bridge.errors import PlanError
from bridge.exact import Length, Meters, Span
from bridge.plan import values as take
from bridge.plan.accept_entry import Accepts
from bridge.plan.cue_entry import CueEntry, Cues
from bridge.plan.entry import Entry
from bridge.plan.lead_in import counted_in
from bridge.plan.nodes import ListNode, MapNode, Node, TextNode, kind_of
from bridge.plan.released_entry import FreeEntry, VampGiven
from bridge.plan.sounding import LayerEntry, Soundings
from bridge.plan.tempo_entry import SongTempo, TempoEntry
from bridge.plan.tighten_entry import TightenEntry
from bridge.plan.values import Reads, Word

__all__ = [
    "NOT_WITH_FREE",
    "CueEntry",
    "LayerEntry",
    "LengthEntry",
    "OriginEntry",
    "PayOffEntry",
    "PlanFile",
    "SectionEntry",
    "TotalEntry",
    "check_version",
]

NOT_WITH_FREE = (
    "bars",
    "length",
    "same_length_as",
    "weight",
    "vamp",
    "tempo",
    "count_in",
    "pickup",
    "runs_on",
    "resolve",
    "meets",
    "tighten",
)
"""Keys that say nothing about a passage without bars; why, bridge.plan.passages tells."""
_RATIO: JsonDict = {"pays_off": {"type": "object", "required": ["ratio"]}}
_NOT_WITH_FREE: Mapping[str, JsonDict] = {**{key: {} for key in NOT_WITH_FREE}, "pays_off": _RATIO}
MAX_LETTER = 8
MAX_NOTE = 500
"""Characters."""
_ABOVE_0 = {"exclusiveMinimum": 0}
_LENGTH_KEYS = ("about", "at_least", "at_most")
_TEMPO_KEYS = ("beat", "bpm", "from", "to", "pivot", "becomes", "between")


class LengthEntry(Entry):
    """The wish for a section's length, and its bounds, in bars or in time."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1})
    what: ClassVar[str] = "a length"
    instead: ClassVar[str] = (
        "Write 'length: {about: 2:30}' for a wish, {at_least: 24 bars} for a bound, "
        "or 'bars: 24' for a fixed number of bars."
    )

    about: Annotated[Span, take.span("'about'")] | None = Field(default=None, examples=["2:30", "24 bars"])
    """The wish."""
    at_least: Annotated[Span, take.span("'at_least'")] | None = Field(default=None, examples=["24 bars"])
    """Never shorter; the wish as well, where there is no other."""
    at_most: Annotated[Span, take.span("'at_most'")] | None = Field(default=None, examples=["96 bars"])
    """Never longer."""


class PayOffEntry(Entry):
    """A payoff that must last so many times as long, in seconds, as what it pays off."""

    what: ClassVar[str] = "a demand on a payoff"

    section: Annotated[tuple[Word, ...], take.names("section", single=True)] = Field(examples=["Crossing"])
    """The earlier section, or a list of them whose seconds are added up."""
    ratio: Annotated[Fraction, take.number("the ratio")] = Field(examples=[1])
    """At least this many times as long."""


def _pay_off_kind(node: Any) -> str:
    return "demand" if isinstance(node, MapNode) else "link"


PaysOff = Annotated[
    Annotated[Annotated[tuple[Word, ...], take.names("section", single=True)], Tag("link")]
    | Annotated[PayOffEntry, Tag("demand")],
    Discriminator(_pay_off_kind),
]


class SectionEntry(Entry):
    """One part of the song."""

    model_config = ConfigDict(
        json_schema_extra={
            "anyOf": [
                {"required": ["bars"]},
                {"required": ["length"], "properties": {"length": {"required": ["about"]}}},
                {"required": ["length"], "properties": {"length": {"required": ["at_least"]}}},
                {"required": ["same_length_as"]},
                {"required": ["settled"], "properties": {"settled": {"enum": [True, "true"]}}},
                {"required": ["vamp"], "properties": {"vamp": {"required": ["at_least"], "type": "object"}}},
                {"required": ["free"]},
            ],
            "if": {"required": ["free"]},
            "then": {
                "not": {
                    "anyOf": [
                        {"required": [key], "properties": within} for key, within in _NOT_WITH_FREE.items()
                    ]
                }
            },
            "else": {"required": ["layers"]},
        }
    )
    what: ClassVar[str] = "a section"
    instead: ClassVar[str] = "Begin it with '- name: ...', then 'layers: [...]' and a length."
    elsewhere: ClassVar[Mapping[str, str]] = {
        **{key: f"Write it inside 'length', as in 'length: {{{key}: ...}}'." for key in _LENGTH_KEYS},
        **{key: f"Write it inside 'tempo', as in 'tempo: {{{key}: ..., ...}}'." for key in _TEMPO_KEYS},
        "ratio": "Write it inside 'pays_off', as in 'pays_off: {section: NAME, ratio: 1}'.",
    }

    name: Annotated[Word, take.name("a section's name")] = Field(examples=["Crossing"])
    """Its name, unlike every other section's."""
    layers: Soundings = Field(
        default=(),
        examples=[["band", "hand drum"], [], ["band", {"hand drum": {"cycle": "5/8"}}]],
        json_schema_extra={"uniqueItems": True},
    )
    """Who sounds, perhaps with what is other here; a layer not named is tacet, [] is a general pause.

    In a free passage, who plays: nobody unless said."""
    bars: Annotated[int, take.bars("the length")] | None = Field(default=None, examples=[16])
    """Exactly so many bars."""
    length: LengthEntry | None = Field(default=None, examples=[{"about": "2:30", "at_least": "24 bars"}])
    """A wish and bounds; the planner finds the bars."""
    same_length_as: Annotated[Word, take.name("a section")] | None = Field(
        default=None, examples=["Crossing"]
    )
    """As many bars as that section."""
    weight: Annotated[Fraction, take.number("a weight", zero=True)] = Field(default=Fraction(1), examples=[2])
    """How much its wish counts against the others."""
    runs_on: Annotated[bool, take.flag("'runs_on'")] = Field(default=False, examples=[True])
    """Its layers carry their phase into the next section instead of restarting."""
    resolve: Annotated[tuple[Word, ...], take.names("layer")] | None = Field(
        default=None, examples=[["band"], []]
    )
    """Who must be home at its end; all that sound in it unless said, nobody with []."""
    meets: Annotated[str, take.one_of("'meets'", "once")] | None = Field(default=None, examples=["once"])
    """once: no full meeting between its first instant and its end."""
    tighten: TightenEntry | None = Field(
        default=None,
        examples=[{"layer": "hand drum", "cycles": ["5/8", "4/8", "3/8", "2/8"], "over": "14 bars"}],
    )
    """A layer that shortens its cycle, in whole turns, over the last bars."""
    pays_off: PaysOff | None = Field(default=None, examples=["Crossing", {"section": "Crossing", "ratio": 1}])
    """The earlier section that this one answers."""
    energy: Annotated[tuple[Fraction, ...], take.numbers("energy", zero=True, most=100)] = Field(
        default=(), examples=[10, [20, 90]]
    )
    """0 to 100; several points are spread evenly from its start to its end."""
    letter: Annotated[str, take.words("a letter", most=MAX_LETTER)] | None = Field(
        default=None, examples=["A"]
    )
    """Its rehearsal letter, on pictures, scores and players' paper; unlike every other section's."""
    note: Annotated[str, take.words("a note", most=MAX_NOTE)] | None = Field(
        default=None, examples=["Wait for the nod."]
    )
    """What players should read beside it."""
    colour: Annotated[int, take.colour()] | None = Field(default=None, examples=["#cc7722"])
    """The colour of its marker and region in a host that has colours; grey unless said."""
    pickup: Annotated[Length, take.note("a pickup")] = Field(default=Length(0), examples=["1/4", "3/16"])
    """So long before its first bar the layers that begin with it sound already: the end of a turn."""
    count_in: Annotated[int, counted_in()] = Field(default=0, examples=["1 bar", "2 bars"])
    """So many bars before its first are counted in, heard in the guide; before bar 1 with --count-in."""
    tempo: TempoEntry | None = Field(default=None, examples=[120, {"from": 96, "to": 132}])
    """Its tempo, in this section only."""
    meter: Annotated[Meters, take.meters()] | None = Field(default=None, examples=["7/8", ["4/4", "7/8"]])
    """Its meter, or a repeating list, in this section only."""
    accept: Accepts | None = Field(
        default=None,
        examples=[{"reading": "low payoff", "because": "it answers the calm of the beginning"}],
    )
    """Readings on the form that are meant so in this section, each with the reason."""
    settled: Annotated[bool, take.flag("'settled'")] = Field(default=False, examples=[True])
    """It has been recorded: it and all before it keep the bars of the kept solution."""
    vamp: VampGiven | None = Field(default=None, examples=[{"at_least": "12 bars"}, True])
    """It is held until released; planned as any other section, at least this long."""
    free: FreeEntry | None = Field(default=None, examples=[{"about": "0:45"}])
    """A passage without bars or click, of so many seconds; it ends a run."""
    cues: Cues = Field(
        default=(),
        examples=[[{"at": "end - 8 bars", "for": "percussion", "say": "brushes down"}]],
    )
    """What is to be said, sent or played where; each place is told from the section."""

    @classmethod
    def _needs(cls, key: str, *, required: bool, node: MapNode) -> bool:
        """Ask for layers unless nothing turns here: a free passage may leave them out."""
        return required or (key == "layers" and node.get("free") is None)


class TotalEntry(Entry):
    """The wish for the whole song."""

    what: ClassVar[str] = "a total"
    instead: ClassVar[str] = "Write 'total: {about: \"11:00\"}'."

    about: Annotated[Fraction, take.time("the total")] = Field(examples=["5:30"])
    """How long the song should be, as a time."""
    within: Annotated[Fraction, take.time("'within'", zero=True)] | None = Field(
        default=None, examples=["0:15"]
    )
    """A hard bound: never further from the wish than this."""
    weight: Annotated[Fraction, take.number("a weight", zero=True)] = Field(default=Fraction(1), examples=[2])
    """How much the wish counts against those of the sections."""


class OriginEntry(Entry):
    """Where in the host the plan begins."""

    what: ClassVar[str] = "an origin"
    instead: ClassVar[str] = "Write 'origin: {bar: 3}'."

    bar: Annotated[int, take.whole("a bar")] = Field(default=1, examples=[3])
    """The host's bar on which the plan's bar 1 falls."""
    seconds: Annotated[Fraction, take.seconds("'seconds'")] | None = Field(default=None, examples=["4s"])
    """The host's time there; worked out from the first section's meter and tempo unless given."""


def check_version(node: Node) -> int:
    """Return the format version, 1; PlanError for another, a newer one by name."""
    text = node.text.strip() if isinstance(node, TextNode) else ""
    if text == "1":
        return 1
    if text.isascii() and text.isdigit() and int(text[:12]) > 1:
        raise PlanError(
            f"the plan has format version {text[:12]}; this pulsebridge reads version 1",
            hint="It was made for a newer pulsebridge: update, or write the plan as version 1.",
            where=node.where,
        )
    raise PlanError(f"'pulsebridge' is the format version, 1, not {kind_of(node)}", where=node.where)


def _layer_entries(node: Any) -> dict[str, Node]:
    if not isinstance(node, MapNode):
        raise PlanError(
            f"layers are a group of keys, a name each, not {kind_of(node)}",
            hint="Write each on a line of its own, as in 'band: {cycle: 4 bars}'; none at all is {}.",
            where=node.where,
        )
    read = take.name("a layer's name", commas=False).read
    return {read(key).text: value for key, value in node}


def _section_entries(node: Any) -> tuple[Node, ...]:
    if not isinstance(node, ListNode) or not node.items:
        raise PlanError(
            "the plan has no sections; there is at least one"
            if isinstance(node, ListNode)
            else f"sections are a list, not {kind_of(node)}",
            hint="Begin each with a dash, as in '- {name: Prelude, layers: [band], bars: 16}'.",
            where=node.where,
        )
    return node.items


class PlanFile(Entry):
    """A pulsebridge plan: the layers of a song and its sections."""

    what: ClassVar[str] = "the plan"
    elsewhere: ClassVar[Mapping[str, str]] = {
        key: "It is a key of a section: write it there."
        for key in SectionEntry.model_fields
        if key not in ("tempo", "meter", "layers", "accept")
    }

    pulsebridge: Annotated[int, Reads(check_version, {"enum": [1, "1"]})] = Field(examples=[1])
    """The format's version: 1."""
    title: Annotated[Word, take.name("the title")] | None = Field(default=None, examples=["Low Tide Relay"])
    """The song's title."""
    tempo: SongTempo = Field(
        examples=[115.2, {"beat": "3/8", "bpm": 80}, {"between": [108, 118]}],
        json_schema_extra={"not": {"type": "object", "required": ["pivot"]}},
    )
    """Quarter notes a minute unless a beat is named, or a range; sections fall back to it."""
    meter: Annotated[Meters, take.meters()] = Field(examples=["4/4", "2+2+3/8", ["4/4", "4/4", "7/8"]])
    """The meter, or a list that repeats from the start of each section."""
    total: TotalEntry | None = Field(default=None, examples=[{"about": "5:30", "within": "0:15"}])
    """The wish for the whole song."""
    origin: OriginEntry | None = Field(default=None, examples=[{"bar": 3}])
    """Where in the host the plan begins."""
    accept: Accepts | None = Field(
        default=None,
        examples=[{"reading": "nobody alone", "because": "the whole song is a duet"}],
    )
    """Readings on the form that are meant so in the whole song, each with the reason."""
    layers: Annotated[dict[str, LayerEntry], BeforeValidator(_layer_entries)] = Field(
        examples=[{"band": {"cycle": "4 bars"}, "hand drum": {"cycle": "3/16"}}]
    )
    """The parts that repeat, by name."""
    sections: Annotated[tuple[SectionEntry, ...], BeforeValidator(_section_entries)] = Field(
        examples=[[{"name": "Prelude", "layers": ["band"], "bars": 16}]],
        json_schema_extra={"minItems": 1},
    )
    """The song, in playing order."""
