"""Markers: the message that holds the name that the user typed, and the place where it was put.

A place told under one tempo alone may fit several units: then a marker made under
another tempo decides, or nobody can tell.  This file knows nothing about files or the
terminal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from bridge.hostmap import Heard, Measure, Message, Unit, read_number
from bridge.learn.finding import Confidence, Finding, Missing
from bridge.learn.lists import counts_along
from bridge.learn.mark import Happening
from bridge.learn.spell import Round, Spell
from bridge.learn.units import Point, a_second, units_that_fit

__all__ = ["Made", "find_gone", "find_marker", "made_markers"]

_LATE = 0.05
_COARSE_SECONDS = 0.05
"""A place told in longer steps cannot show that a marker stands where it was put."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A marker that was made: its name, where, and every message since that has its name as an argument."""

    name: str
    bar: int
    round: Round
    told: tuple[Message, ...]


@dataclass(frozen=True, slots=True)
class _Reading:
    """One way of reading a message: which argument is the name, which the place."""

    address: str
    name: int
    at: int
    units: tuple[Unit, ...]
    made: tuple[tuple[Made, Message], ...]

    @property
    def told(self) -> int:
        return sum(sum(message.address == self.address for message in made.told) for made, _ in self.made)


def made_markers(happenings: Sequence[Happening], spells: Sequence[Spell]) -> tuple[Made, ...]:
    """Return the markers that the user made at known places, with what the host said of them."""
    found = []
    for spell in spells:
        if spell.step == "marker" and spell.bar is not None and spell.round.known:
            until = _next_place(spells, spell)
            told = tuple(_naming(happenings, spell.detail, spell.asked, until))
            found.append(Made(name=spell.detail, bar=spell.bar, round=spell.round, told=told))
    return tuple(found)


def find_marker(made: Sequence[Made], happenings: Sequence[Happening] = ()) -> Finding:
    """Find the message that tells of a marker."""
    told = [one for one in made if one.told]
    if not made:
        return _no("marker", "no marker was made at a known bar", Missing.MARKER)
    if len(made) < 2:
        return _no("marker", "one marker alone may fit by chance", Missing.MARKER)
    if len(told) < len(made):
        silent = next(one.name for one in made if not one.told)
        return _no("marker", f"no message held the name {silent!r} of the marker that was made")
    readings = [one for one in _readings(told) if one.units]
    clear = [one for one in readings if len(one.units) == 1]
    if not readings:
        return _no(
            "marker", f"{told[0].told[-1].address} holds the name but no place that a host map can say"
        )
    if not clear:
        return _several(readings[0])
    best = min(clear, key=_rank)
    args = {"at": best.at, "name": best.name}
    handle, about = _handle(best, happenings)
    if handle is not None:
        args = {"id": handle, **args}
    return Finding(
        key="marker",
        heard=Heard(address=best.address, args=args, unit=best.units[0]),
        evidence=f"{_shown(best)}; {about}",
        confidence=Confidence.SURE if len({one.round for one in made}) > 1 else Confidence.FAIR,
        rivals=tuple(
            f"{one.address} arguments {one.name} and {one.at} ({' or '.join(map(str, one.units))})"
            for one in readings
            if one is not best
        ),
    )


def find_gone(happenings: Sequence[Happening], spells: Sequence[Spell], marker: Finding) -> Finding:
    """Find the message that tells that a marker was removed: it holds the id that the marker had."""
    removed = next((spell for spell in spells if spell.step == "remove"), None)
    if marker.heard is None or "id" not in marker.heard.args:
        return _no("marker_gone", "markers have no id by which one could be gone")
    if removed is None:
        return _no("marker_gone", "no marker was removed", Missing.MARKER)
    handle = _last_handle(happenings, removed, marker.heard)
    found = {
        (message.address, index)
        for message in _messages(happenings, removed.asked, removed.end)
        for index, arg in enumerate(message.args)
        if handle is not None and type(arg) is type(handle) and arg == handle
        and message.address != marker.heard.address
        and not _before(happenings, message.address, removed.asked)
    }  # fmt: skip
    if len(found) != 1:
        why = "nothing new" if not found else "more than one message"
        return _no("marker_gone", f"{why} held its id when {removed.detail!r} was removed")
    address, index = next(iter(found))
    return Finding(
        key="marker_gone",
        heard=Heard(address=address, args={"id": index}),
        evidence=f"held the id {handle!r} when {removed.detail!r} was removed, and never came before",
        confidence=Confidence.FAIR,
    )


def _readings(made: Sequence[Made]) -> Iterator[_Reading]:
    first = made[0]
    addresses = dict.fromkeys(message.address for message in first.told)
    for address in addresses:
        last = [(one, message) for one in made if (message := _last(one, address)) is not None]
        if len(last) < len(made):
            continue
        for name in _indexes_of_name(last):
            for at in range(min(len(message.args) for _, message in last)):
                if at != name:
                    units = _units(last, at)
                    yield _Reading(address, name, at, units, tuple(last))


def _last(one: Made, address: str) -> Message | None:
    return next((message for message in reversed(one.told) if message.address == address), None)


def _indexes_of_name(last: Sequence[tuple[Made, Message]]) -> list[int]:
    return [
        index
        for index in range(min(len(message.args) for _, message in last))
        if all(message.args[index] == one.name for one, message in last)
    ]


def _units(last: Sequence[tuple[Made, Message]], at: int) -> tuple[Unit, ...]:
    points = []
    for one, message in last:
        number = read_number(message.args[at], message.types[at]) if _plain(message) else None
        if number is None:
            return ()
        points.append(Point(bar=one.bar, round=one.round, value=float(number.value), step=float(number.step)))
    first = points[0]
    fitting = units_that_fit(points, ())
    return tuple(unit for unit in fitting if first.step <= _COARSE_SECONDS * a_second(unit, first.round))


def _handle(best: _Reading, happenings: Sequence[Happening]) -> tuple[int | None, str]:
    """Return the argument that is the id, if exactly one can be, and what was seen."""
    messages = [message for _, message in best.made]
    others = [index for index in range(len(messages[0].args)) if index not in (best.name, best.at)]
    able = [index for index in others if _tells_apart(messages, index) and _keeps(best, index)]
    if len(able) == 1:
        ids = " and ".join(repr(message.args[able[0]]) for message in messages)
        return able[0], f"argument {able[0]} tells them apart: {ids}"
    if not able:
        able = [index for index in others if counts_along(happenings, best.address, index, best.at)]
        if len(able) == 1:
            return able[0], f"argument {able[0]} numbers them along the timeline, anew in each list"
    return None, "no argument is an id" if not able else "several arguments could be the id: none is taken"


def _tells_apart(messages: Sequence[Message], index: int) -> bool:
    values = [message.args[index] for message in messages if index < len(message.args)]
    able = all(isinstance(value, int | str) and not isinstance(value, bool) for value in values)
    return able and len(values) == len(messages) == len(set(values))


def _keeps(best: _Reading, index: int) -> bool:
    """Tell whether each marker kept its value, however often it was told."""
    return all(
        len({message.args[index] for message in made.told if message.address == best.address}) == 1
        for made, _ in best.made
        if all(index < len(message.args) for message in made.told if message.address == best.address)
    )


def _rank(one: _Reading) -> tuple[object, ...]:
    unit = one.units[0]
    return -one.told, unit.of_time, unit.measure is Measure.BARS, one.address, one.at


def _several(one: _Reading) -> Finding:
    units = " and ".join(map(str, one.units))
    return _no(
        "marker",
        f"{one.address} argument {one.at} is the place in {units} alike: one under another tempo would tell",
        Missing.TEMPO,
    )


def _shown(best: _Reading) -> str:
    return ", ".join(
        f"{one.name!r} at bar {one.bar} came with {message.args[best.at]!r}" for one, message in best.made
    )


def _no(key: str, why: str, missing: Missing | None = None) -> Finding:
    return Finding(key=key, heard=None, evidence=why, missing=missing)


def _plain(message: Message) -> bool:
    return "[" not in message.types and len(message.types) == len(message.args)


def _next_place(spells: Sequence[Spell], spell: Spell) -> float:
    """Return when tempo or meter was changed next, or a marker removed: later places mean something else."""
    later = [
        one.asked for one in spells if one.asked > spell.asked and one.step in ("tempo", "meter", "remove")
    ]
    return min(later, default=float("inf"))


def _messages(happenings: Sequence[Happening], start: float, end: float) -> Iterator[Message]:
    for one in happenings:
        if isinstance(one.said, Message) and start <= one.at <= end + _LATE:
            yield one.said


def _naming(happenings: Sequence[Happening], name: str, start: float, end: float) -> Iterator[Message]:
    for message in _messages(happenings, start, end):
        if _plain(message) and name in [arg for arg in message.args if isinstance(arg, str)]:
            yield message


def _last_handle(happenings: Sequence[Happening], removed: Spell, heard: Heard) -> Any:
    told = [
        message
        for message in _naming(happenings, removed.detail, float("-inf"), removed.asked)
        if message.address == heard.address
    ]
    return told[-1].args[heard.args["id"]] if told and heard.args["id"] < len(told[-1].args) else None


def _before(happenings: Sequence[Happening], address: str, until: float) -> bool:
    return any(
        isinstance(one.said, Message) and one.said.address == address and one.at < until for one in happenings
    )
