"""What may be said to the host: what the user typed, or what the host itself announced.

Never anything else: an address made up by us could do anything in somebody's project.
Whether the host reacted is judged by what it said afterwards.  Pure: this file sends
nothing.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from bridge.errors import PlanError
from bridge.hostmap import (
    Event,
    Heard,
    HostMap,
    MarkerEnd,
    MarkerGone,
    MarkerHeard,
    Message,
    PlayingHeard,
    PositionHeard,
    Said,
    Unit,
    hear,
    load,
)
from bridge.hostmap.table import SAYS
from bridge.hostmap.template import Fact, Facts, Field
from bridge.learn.explain import Explained
from bridge.learn.mark import Happening, Mark, What
from bridge.learn.spell import Round
from bridge.learn.units import value_at

__all__ = [
    "DEEDS",
    "LIST",
    "Deed",
    "Spoken",
    "announced",
    "facts_of",
    "reacted",
    "read_typed",
    "said_of",
    "spoken_of",
]

_PLAIN = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One thing a host can be asked for: its key under ``says``, and how it is tried."""

    key: str
    about: str
    bar: int | None = None
    name: str | None = None


LIST = Deed(key="list", about="lists all its markers")
DEEDS = (
    Deed(key="locate", about="moves it to bar 3", bar=3),
    Deed(key="play", about="starts it"),
    Deed(key="stop", about="stops it"),
    Deed(key="place", about="makes a marker named gull at bar 3", bar=3, name="gull"),
    Deed(key="remove", about="removes that marker named gull again", bar=3, name="gull"),
)
"""In the order in which they are tried: what was made is removed again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spoken:
    """One key under ``says``: the YAML of its messages, and what was seen when they were sent."""

    key: str
    yaml: str
    evidence: str


def spoken_of(happenings: Sequence[Happening]) -> tuple[Spoken, ...]:
    """Return what was tried and done, the last of each key; PlanError for what a map cannot say."""
    found: dict[str, Spoken] = {}
    for one in happenings:
        if isinstance(one.said, Mark) and one.said.what is What.SPOKEN:
            spoken = _spoken(one.said)
            said_of(spoken.key, spoken.yaml)
            found[spoken.key] = spoken
    return tuple(found[key] for key in SAYS if key in found)


def _spoken(mark: Mark) -> Spoken:
    try:
        yaml, evidence = json.loads(mark.detail)
    except (TypeError, ValueError, RecursionError):
        yaml = evidence = None
    if mark.step not in SAYS or not isinstance(yaml, str) or not isinstance(evidence, str) or "\n" in yaml:
        raise PlanError(f"a step of the interview cannot be read: spoken {mark.step[:40]!r}")
    return Spoken(key=mark.step, yaml=yaml, evidence=evidence)


def read_typed(text: str) -> str:
    """Return what the user typed as the YAML of a host map; PlanError when it cannot be one.

    ``/rig/goto {quarters:f}`` is one message, its words the arguments; a text that begins
    with a bracket is taken as the list that it is.
    """
    stripped = text.strip()
    if not stripped:
        raise PlanError("that is no message: it is empty", hint="Write /address {field:type} ...")
    yaml = stripped if stripped.startswith("[") else _one_message(stripped)
    said_of("play", yaml)
    return yaml


def said_of(key: str, yaml: str) -> tuple[Said, ...]:
    """Return the messages of ``yaml`` as the host map reads them."""
    try:
        return load(f"pulsebridge_host: 1\nsays:\n  {key}: {yaml}\n").says[key]
    except PlanError as error:
        raise PlanError(f"that is no message: {error.message}", hint=error.hint) from None


def _one_message(text: str) -> str:
    address, *words = text.split()
    args = ", ".join(word if _PLAIN.fullmatch(word) else json.dumps(word) for word in words)
    return (
        f"[{{address: {json.dumps(address)}, args: [{args}]}}]"
        if args
        else f"[{{address: {json.dumps(address)}}}]"
    )


def announced(key: str, explained: Explained, happenings: Sequence[Happening]) -> str | None:
    """Return what the host itself sends when the user does the deed, as something to try; None: nothing."""
    if key in ("play", "stop"):
        heard = explained["playing"].heard
        return None if heard is None else _echo(happenings, heard, {}, rolling=key == "play")
    if key == "locate":
        heard = explained["position"].heard
        return None if heard is None else _echo(happenings, heard, {heard.args["value"]: str(heard.unit)})
    heard = explained["marker" if key == "place" else "marker_gone"].heard
    if heard is None or (key == "place" and "id" in heard.args):
        return None
    names = {"id": "id", "name": "name", "at": str(heard.unit)}
    return _echo(happenings, heard, {index: names[word] for word, index in heard.args.items()})


def _echo(
    happenings: Sequence[Happening], heard: Heard, fields: dict[int, str], *, rolling: bool | None = None
) -> str | None:
    """Write the host's last such message with fields in it; None where an argument's meaning is not known."""
    for one in reversed(happenings):
        said = one.said
        if (
            not isinstance(said, Message)
            or said.address != heard.address
            or len(said.types) != len(said.args)
        ):
            continue
        if rolling is not None:
            if (
                len(said.args) == 1
                and isinstance(said.args[0], int | float)
                and bool(said.args[0]) == rolling
            ):
                return f"[{{address: {json.dumps(said.address)}, args: [{said.args[0]}]}}]"
            continue
        if set(fields) != set(range(len(said.args))) or "bars" in fields.values():
            return None
        args = ", ".join(json.dumps(f"{{{fields[i]}:{said.types[i]}}}") for i in range(len(said.args)))
        return f"[{{address: {json.dumps(said.address)}, args: [{args}]}}]"
    return None


def facts_of(deed: Deed, round_: Round, handle: int | str | float | None) -> Facts:
    """Return what fields hold for ``deed``; PlanError for one that has no value there."""
    meter = round_.meter

    def fact(field: Field) -> Fact:
        known: dict[str, Fact | None] = {
            "name": deed.name,
            "id": handle,
            "index": 0,
            "count": 1,
            "bar": deed.bar,
            "beat": 1,
            "bpm": round_.bpm,
            "colour": 0x808080 if field.type != "s" else "#808080",
            "meter_top": meter.top if meter else None,
            "meter_bottom": meter.unit if meter else None,
        }
        if field.unit is not None and deed.bar is not None and round_.known:
            return value_at(field.unit, deed.bar, round_)
        value = known.get(field.name)
        if value is None:
            raise PlanError(f"the field {field.name!r} has no value when the host {deed.about}")
        return value

    return fact


def reacted(
    deed: Deed, hears: Mapping[str, Heard], happenings: Sequence[Happening], round_: Round
) -> str | None:
    """Return what shows that the host did what it was last sent, in words; None where nothing does."""
    start = max((one.at for one in happenings if _is_sent(one, deed.key)), default=float("inf"))
    listed = max((one.at for one in happenings if _is_sent(one, "list")), default=float("inf"))
    host = HostMap(name="learnt", hears=hears)
    events = [
        (one.at >= max(start, listed), event)
        for one in happenings
        if isinstance(one.said, Message) and one.at >= start
        for event in hear(host, one.said)
    ]
    seen = _Seen(deed, hears, round_, tuple(events))
    return _JUDGES[deed.key](seen)


@dataclass(frozen=True, slots=True)
class _Seen:
    """What the host said since, and whether after a list was asked for."""

    deed: Deed
    hears: Mapping[str, Heard]
    round: Round
    events: tuple[tuple[bool, Event], ...]

    @property
    def positions(self) -> list[float]:
        return [float(event.at.value) for _, event in self.events if isinstance(event, PositionHeard)]

    @property
    def rolls(self) -> list[bool]:
        return [event.playing for _, event in self.events if isinstance(event, PlayingHeard)]

    def markers(self, *, listed: bool = False) -> list[MarkerHeard]:
        """Return the markers told; of the list alone where ``listed``."""
        return [
            event
            for in_list, event in self.events
            if isinstance(event, MarkerHeard) and (in_list or not listed)
        ]

    def unit(self, key: str) -> Unit | None:
        return self.hears[key].unit if key in self.hears and self.round.known else None


def _is_sent(one: Happening, key: str) -> bool:
    return isinstance(one.said, Mark) and one.said.what is What.SENT and one.said.step == key


def _moves(seen: _Seen) -> str | None:
    if seen.rolls:
        return "it said that it plays" if seen.rolls[-1] else None
    late = seen.positions[-4:]
    rising = len(late) == 4 and all(before < after for before, after in pairwise(late))
    return "its position began to move" if rising else None


def _rests(seen: _Seen) -> str | None:
    if seen.rolls:
        return None if seen.rolls[-1] else "it said that it stands"
    late = seen.positions[-2:]
    return "its position rests" if len(late) == 2 and late[0] == late[1] else None


def _arrived(seen: _Seen) -> str | None:
    unit, positions = seen.unit("position"), seen.positions
    if not positions or unit is None or not _is_near(positions[-1], unit, seen):
        return None
    return f"its position was {positions[-1]:.10g} then"


def _placed(seen: _Seen) -> str | None:
    unit = seen.unit("marker")
    for marker in reversed(seen.markers()):
        if unit and marker.name == seen.deed.name and _is_near(float(marker.at.value), unit, seen):
            return f"the marker came back at {float(marker.at.value):.10g}"
    return None


def _removed(seen: _Seen) -> str | None:
    if any(isinstance(event, MarkerGone) for _, event in seen.events):
        return "it said that the marker is gone"
    left = seen.markers(listed=True)
    ended = any(listed and isinstance(event, MarkerEnd) for listed, event in seen.events)
    if (left or ended) and seen.deed.name not in [marker.name for marker in left]:
        return "the next list was without it"
    return None


def _listed(seen: _Seen) -> str | None:
    count = len(seen.markers())
    return f"markers came: {count}" if count else None


_JUDGES: dict[str, Callable[[_Seen], str | None]] = {
    "play": _moves,
    "stop": _rests,
    "locate": _arrived,
    "place": _placed,
    "remove": _removed,
    "list": _listed,
}


def _is_near(value: float, unit: Unit, seen: _Seen) -> bool:
    """Whether a place told is that of the deed's bar, to five milliseconds."""
    bar = seen.deed.bar or 1
    due = value_at(unit, bar, seen.round)
    a_bar = value_at(unit, bar + 1, seen.round) - due
    seconds = seen.round.bar_quarters * 60 / (seen.round.bpm or 120)
    return abs(Fraction(value) - due) <= a_bar / seconds * Fraction(5, 1000) + Fraction(1, 10**6)
