"""What may be said to the host: what the user typed, or what the host itself announced.

Never anything else: an address made up by us could do anything in somebody's project.
Whether the host reacted is judged by what it said afterwards.  Pure: this file sends
nothing.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import Meter
from bridge.hostmap import (
    Heard,
    Message,
    Said,
    load,
)
from bridge.hostmap.table import SAYS
from bridge.hostmap.template import END, Fact, Facts, Field
from bridge.learn.explain import Explained
from bridge.learn.mark import Happening, Mark, What
from bridge.learn.spell import Round
from bridge.learn.units import value_at

__all__ = [
    "DEEDS",
    "LASTING",
    "LIST",
    "Deed",
    "Spoken",
    "announced",
    "facts_of",
    "read_typed",
    "said_of",
    "spoken_of",
]

_ECHOED = ("locate", "place", "remove")
_PLAIN = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One thing a host can be asked for: its key under ``says``, and how it is tried."""

    key: str
    about: str
    bar: int | None = None
    name: str | None = None
    old_name: str | None = None
    until: int | None = None
    """The bar at which a loop or a region ends."""
    bpm: Fraction | None = None
    meter: Meter | None = None


LIST = Deed(key="list", about="lists all its markers")
DEEDS = (
    Deed(key="locate", about="moves it to bar 3", bar=3),
    Deed(key="play", about="starts it"),
    Deed(key="stop", about="stops it"),
    Deed(key="place", about="makes a marker named gull at bar 3", bar=3, name="gull"),
    Deed(key="rename", about="renames that marker from gull to tern", bar=3, name="tern", old_name="gull"),
    Deed(key="remove", about="removes that marker named gull again", bar=3, name="gull"),
    Deed(key="region", about="makes a region named shoal from bar 3 to bar 5", bar=3, name="shoal", until=5),
    Deed(key="loop", about="loops between bar 3 and bar 5", bar=3, until=5),
    Deed(key="loop_off", about="stops looping", bar=3),
    Deed(key="meter", about="sets the meter at bar 3 to 5/4", bar=3, meter=Meter.parse("5/4")),
    Deed(key="tempo", about="sets the tempo at bar 3 to 152", bar=3, until=5, bpm=Fraction(152)),
)
"""In the order in which they are tried: a marker that was made is removed again, and what places in
seconds depend on comes last."""
LASTING = ("region", "meter", "tempo")
"""What a trial leaves behind in the host."""


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
    if key in ("tempo", "meter"):
        heard = explained[key].heard
        meaning = {"value": "bpm", "top": "meter_top", "bottom": "meter_bottom"}
        fields = {} if heard is None else {i: meaning[word] for word, i in heard.args.items()}
        return None if heard is None else _echo(happenings, heard, fields)
    if key not in _ECHOED:
        return None
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
    meter = deed.meter or round_.meter
    bpm = deed.bpm or round_.bpm

    def fact(field: Field) -> Fact:
        known: dict[str, Fact | None] = {
            "name": deed.name,
            "old_name": deed.old_name,
            "id": handle,
            "index": 0,
            "count": 1,
            "bar": deed.bar,
            "beat": 1,
            "end_bar": deed.until,
            "end_beat": None if deed.until is None else 1,
            "bpm": bpm,
            "bpm_end": bpm,
            "colour": 0x808080 if field.type != "s" else "#808080",
            "meter_top": meter.top if meter else None,
            "meter_bottom": meter.unit if meter else None,
        }
        if field.unit is not None and deed.bar is not None and round_.known:
            return value_at(field.unit, deed.bar, round_)
        if field.name.startswith(END) and deed.until is not None and round_.known:
            unit = replace(field, name=field.name.removeprefix(END)).unit
            if unit is not None:
                return value_at(unit, deed.until, round_)
        value = known.get(field.name)
        if value is None:
            raise PlanError(f"the field {field.name!r} has no value when the host {deed.about}")
        return value

    return fact
