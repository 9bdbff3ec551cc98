"""``cues`` of a section as they are written: places, words, messages, recordings.

MIDI 1.0 numbers programs, controllers and values in seven bits and has 16 channels; OSC 1.0
(https://opensoundcontrol.stanford.edu/spec-1_0.html) says what an address may hold.  This
file knows nothing about the section they stand in.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import Annotated, Any, ClassVar

from pydantic import BeforeValidator, ConfigDict, Discriminator, Field, Tag

from bridge.errors import PlanError
from bridge.exact import parse_number
from bridge.plan import values as take
from bridge.plan.cue import (
    AWAY,
    MOST_CHANNELS,
    MOST_CONTROLLER,
    MOST_PROGRAMS,
    CueAt,
    OscArg,
    PlanCue,
    Send,
    SendController,
    SendOsc,
    SendProgram,
)
from bridge.plan.entry import Entry
from bridge.plan.hints import did_you_mean, listed
from bridge.plan.nodes import ListNode, MapNode, Node, TextNode, kind_of
from bridge.plan.values import Reads, Word

__all__ = ["CueEntry", "Cues", "plan_cues"]

MOST_SENT = 16
"""Messages of one cue."""
LONGEST_TEXT = 500
"""Characters of one argument: a message has to fit into a packet."""
_WHOLE = re.compile(r"[+-]?[0-9]{1,19}", re.ASCII)
_DECIMAL = re.compile(r"([+-]?)([0-9]*\.[0-9]+)", re.ASCII)
_NOT_IN_ADDRESS = frozenset(" #*,?[]{}")
_ANCHOR = r"start|end|bar\s+[0-9]+(\.[0-9]+)?|meeting\s+[0-9]+"
_PLACE = Reads(
    take.text_reader(CueAt.parse, "a cue's place"),
    {"type": "string", "pattern": rf"^\s*({_ANCHOR})(\s*[+-]\s*({AWAY}))?\s*$"},
)
_PROGRAM = take.whole("a program", most=MOST_PROGRAMS)
_CHANNEL = take.whole("a channel", most=MOST_CHANNELS)
_CONTROLLER = take.whole("a controller", least=0, most=MOST_CONTROLLER)
_VALUE = take.whole("a controller's value", least=0, most=MOST_CONTROLLER)


class ProgramEntry(Entry):
    """A program change."""

    what: ClassVar[str] = "a program change"

    program: Annotated[int, _PROGRAM] = Field(examples=[12])
    """1 to 128, as players see it; on the wire one less."""
    channel: Annotated[int, _CHANNEL] = Field(examples=[3])
    """1 to 16."""


class ControllerEntry(Entry):
    """A control change."""

    what: ClassVar[str] = "a control change"

    controller: Annotated[int, _CONTROLLER] = Field(examples=[64])
    """0 to 127."""
    value: Annotated[int, _VALUE] = Field(examples=[127, 0])
    """0 to 127."""
    channel: Annotated[int, _CHANNEL] = Field(examples=[3])
    """1 to 16."""


def _osc(node: Node) -> SendOsc:
    parts = node.items if isinstance(node, ListNode) else (node,)
    if not parts:
        raise PlanError(
            "an OSC message begins with its address", hint="Write [/lamp/level, 0.5].", where=node.where
        )
    return SendOsc(address=_ADDRESS(parts[0]), args=tuple(map(_argument, parts[1:])))


def _address(text: str) -> str:
    if not text.startswith("/"):
        raise PlanError(f"an OSC address begins with '/': {text[:60]!r}", hint=f"Write /{text[:60].strip()}.")
    bad = next((c for c in text if not " " < c < "\x7f" or c in _NOT_IN_ADDRESS), None)
    if bad is not None or len(text) > take.MAX_NAME_BYTES:
        found = f"cannot hold {bad!r}" if bad else f"has at most {take.MAX_NAME_BYTES} characters"
        raise PlanError(
            f"an OSC address {found}: {text[:60]!r}",
            hint="It is printable ASCII without spaces and without # * , ? [ ] { }.",
        )
    return text


_ADDRESS = take.text_reader(_address, "an OSC address")


def _argument(node: Node) -> OscArg:
    """Read one argument: a bare whole number is sent as i, a bare decimal as f, other text as s."""
    if not isinstance(node, TextNode):
        raise PlanError(
            f"an argument of an OSC message is a number or a text, not {kind_of(node)}",
            hint="Write them one after another: [/lamp/level, 0.5, blue].",
            where=node.where,
        )
    if node.is_nothing:
        raise PlanError("an argument has no value", hint="An empty text is ''.", where=node.where)
    try:
        return _typed(node.text, plain=node.plain)
    except PlanError as error:
        raise error.at(node.where) from None


def _typed(text: str, *, plain: bool) -> OscArg:
    if plain and _WHOLE.fullmatch(text):
        number = int(text)
        if not -(2**31) <= number < 2**31:
            raise PlanError(
                f"{text} does not fit 32 bits, as a whole number is sent", hint="Write it in quotes."
            )
        return number
    if plain and (found := _DECIMAL.fullmatch(text)):
        written = f"0{found[2]}" if found[2].startswith(".") else found[2]
        value = parse_number(written, what="an argument")
        return -value if found[1] == "-" else value
    if len(text) > LONGEST_TEXT or not text.isprintable():
        raise PlanError(f"an argument is at most {LONGEST_TEXT} printable characters, not {text[:40]!r}")
    return text


class OscEntry(Entry):
    """An OSC message."""

    what: ClassVar[str] = "an OSC message"

    osc: Annotated[
        SendOsc,
        Reads(
            _osc,
            {
                "type": ["array", "string"],
                "minItems": 1,
                "items": {"type": ["string", "number", "boolean"]},
                "prefixItems": [{"type": "string", "pattern": "^/"}],
            },
        ),
    ] = Field(examples=[["/lamp/level", 0.5, "blue"]])
    """The address, then the arguments: a bare whole number is sent as i, a decimal as f, text as s."""


_SENT = {"program": "program", "controller": "controller", "value": "controller", "osc": "osc"}


def _sent_kind(node: Any) -> str:
    keys = [key.text for key, _ in node] if isinstance(node, MapNode) else []
    found = next((_SENT[key] for key in keys if key in _SENT), None)
    if found is None:
        raise PlanError(
            f"what a cue sends is a program, a controller or osc, not {_found(node, keys)}",
            hint="Write {program: 12, channel: 3}, {controller: 64, value: 127, channel: 3}"
            " or {osc: [/lamp/level, 0.5]}.",
            where=node.where,
        )
    return found


def _found(node: Node, keys: Collection[str]) -> str:
    return listed(keys) if keys else kind_of(node)


_Sent = Annotated[
    Annotated[ProgramEntry, Tag("program")]
    | Annotated[ControllerEntry, Tag("controller")]
    | Annotated[OscEntry, Tag("osc")],
    Discriminator(_sent_kind),
]


def _messages(node: Node) -> tuple[Node, ...]:
    found = node.items if isinstance(node, ListNode) else (node,)
    if not 1 <= len(found) <= MOST_SENT:
        raise PlanError(
            f"a cue sends 1 to {MOST_SENT} messages, not {len(found)}",
            hint="Take 'send' out, or make two cues of it.",
            where=node.where,
        )
    return found


def _send_kind(node: Any) -> str:
    return "many" if isinstance(node, ListNode) else "one"


_Sends = Annotated[
    Annotated[_Sent, Tag("one")]
    | Annotated[
        tuple[_Sent, ...],
        BeforeValidator(_messages),
        Field(json_schema_extra={"minItems": 1, "maxItems": MOST_SENT}),
        Tag("many"),
    ],
    Discriminator(_send_kind),
]


def _sound(text: str) -> str:
    path = take.clean_name(text, what="a recording's path")
    if path.startswith(("/", "\\", "~")) or re.match(r"[A-Za-z]:", path):
        raise PlanError(
            f"a recording's path leads on from the plan's folder: {path[:60]!r}",
            hint="Keep the recording beside the plan, and write calls/landfall.wav, or the like.",
        )
    return path


class CueEntry(Entry):
    """A cue: where it stands, for whom, and what it says, sends or plays."""

    model_config = ConfigDict(
        json_schema_extra={"anyOf": [{"required": ["say"]}, {"required": ["send"]}, {"required": ["sound"]}]}
    )
    what: ClassVar[str] = "a cue"
    instead: ClassVar[str] = "Write {at: end - 8 bars, say: brushes down}."
    elsewhere: ClassVar[Mapping[str, str]] = {
        key: f"Write it inside 'send', as in 'send: {{{example}}}'."
        for key, example in {
            "program": "program: 12, channel: 3",
            "controller": "controller: 64, value: 127, channel: 3",
            "channel": "program: 12, channel: 3",
            "osc": "osc: [/lamp/level, 0.5]",
        }.items()
    }

    at: Annotated[CueAt, _PLACE] = Field(examples=["end - 8 bars", "meeting 2", "bar 5.3", "start - 2 beats"])
    """Where, told from the section: start, end, bar N, bar N.B or meeting N, and a way from there."""
    for_: Annotated[Word, take.name("a player")] | None = Field(
        default=None, alias="for", examples=["percussion"]
    )
    """The player it is for; everybody unless said."""
    say: Annotated[Word, take.name("what a cue says")] | None = Field(default=None, examples=["brushes down"])
    """What is to be read."""
    send: _Sends | None = Field(
        default=None,
        examples=[{"program": 12, "channel": 3}, [{"osc": ["/lamp/level", 0.5]}]],
    )
    """What goes out at that place: a MIDI program or controller, an OSC message, or a list of them."""
    sound: (
        Annotated[
            str,
            Reads(
                take.text_reader(_sound, "a recording's path"),
                {
                    "type": "string",
                    "minLength": 1,
                    "maxLength": take.MAX_NAME_BYTES,
                    "pattern": r"^\s*[^/\\~]",
                },
            ),
        ]
        | None
    ) = Field(default=None, examples=["calls/landfall.wav"])
    """A short recording beside the plan, heard before the cue: it ends ahead of it."""


def _entries(node: Any) -> tuple[Node, ...]:
    if isinstance(node, MapNode):
        raise PlanError(
            "cues are a list, not one group of keys",
            hint="Put it in brackets: [{at: ..., say: ...}].",
            where=node.where,
        )
    return take.items(node, "cues").items


Cues = Annotated[tuple[CueEntry, ...], BeforeValidator(_entries)]


def plan_cues(entries: Collection[CueEntry], players: Collection[str]) -> tuple[PlanCue, ...]:
    """Return a section's cues in the file's order; PlanError for one for nobody, or that does nothing."""
    return tuple(_cue(entry, players) for entry in entries)


def _cue(entry: CueEntry, players: Collection[str]) -> PlanCue:
    if entry.for_ is not None and entry.for_.text not in players:
        raise PlanError(
            f"there is no player {entry.for_.text!r}; there are {listed(players) or 'none'}",
            hint=did_you_mean(entry.for_.text, players)
            or "A player is named under 'layers'; a layer without one is a player of its own name.",
            where=entry.for_.where,
        )
    if entry.say is None and entry.send is None and entry.sound is None:
        raise PlanError(
            "this cue does nothing: it has neither say nor send nor sound",
            hint="Write what it says, as in 'say: look up'.",
            where=entry.where,
        )
    sent = () if entry.send is None else entry.send if isinstance(entry.send, tuple) else (entry.send,)
    return PlanCue(
        at=entry.at,
        player=entry.for_.text if entry.for_ else None,
        say=entry.say.text if entry.say else None,
        send=tuple(map(_message, sent)),
        sound=entry.sound,
        where=entry.where,
    )


def _message(entry: ProgramEntry | ControllerEntry | OscEntry) -> Send:
    if isinstance(entry, ProgramEntry):
        return SendProgram(program=entry.program, channel=entry.channel)
    if isinstance(entry, ControllerEntry):
        return SendController(controller=entry.controller, value=entry.value, channel=entry.channel)
    return entry.osc
