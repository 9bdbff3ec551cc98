"""``pulsebridge changes``: what has to be done by hand to recorded material."""

from __future__ import annotations

import json as json_text
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from bridge.cli.output import print_json, write_lines
from bridge.cli.solving import read_bytes, solved_song
from bridge.errors import MusicError, PlanError
from bridge.exact import MAX_DIGITS
from bridge.shape import DEFAULT_EFFORT
from bridge.song import left_open
from bridge.song.changes import Change, Deed, Stand, changes, settled_that_change

__all__ = ["command"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """One of the two solutions."""

    stands: tuple[Stand, ...]
    first_bar: int | None
    """The host's bar on which it begins; None where only bars are known."""


def command(
    old: Annotated[
        Path, typer.Argument(help="What was recorded: a plan, or a kept solution.", metavar="OLD")
    ],
    new: Annotated[Path, typer.Argument(help="What it is to become: the same.", metavar="NEW")],
    effort: Annotated[int, typer.Option(min=1, help="Steps the planner may take.")] = DEFAULT_EFFORT,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Say in order which bars have to be put in and cut, since audio does not move with markers.

    OLD and NEW are plan files, or solutions kept by 'plan --keep' (PLAN.solved.json).  Each
    bar number counts what was done before it: work through the list from the top.

    \b
    Example:
      pulsebridge changes tide.yaml.solved.json tide.yaml
    """
    before, after = _side(old, effort), _side(new, effort)
    held = settled_that_change(before.stands, after.stands)
    if held:
        names = ", ".join(map(repr, held))
        raise MusicError(
            f"settled material would change: {names}",
            hint="Settled sections, and all before them, stay as they were recorded: "
            "keep their bars, or take 'settled' out.",
        )
    first_bar = after.first_bar or before.first_bar or 1
    found = changes(before.stands, after.stands, first_bar=first_bar)
    if json:
        print_json(_record(before, after, found))
    else:
        write_lines(_lines(found))
    return 0


def _side(path: Path, effort: int) -> _Side:
    text = read_bytes(path, what="the plan or solution")
    if text.lstrip()[:1] == b"{" and path.suffix == ".json":
        return _Side(stands=_kept(path, text), first_bar=None)
    song, _ = solved_song(path, effort=effort)
    last = max((i for i, one in enumerate(song.sections) if one.section.settled), default=-1)
    stands = tuple(
        Stand(
            name=one.name,
            bars=one.bars,
            settled=i <= last,
            time=f"{one.section.meters} at {one.section.tempo}"
            if one.section.free is None
            else left_open(one.section),
        )
        for i, one in enumerate(song.sections)
    )
    return _Side(stands=stands, first_bar=song.plan.origin.bar)


def _kept(path: Path, text: bytes) -> tuple[Stand, ...]:
    try:
        sections = json_text.loads(text)["sections"]
        stands = tuple(Stand(name=_name(one["name"]), bars=_bars(one["bars"])) for one in sections)
    except (ValueError, KeyError, TypeError, RecursionError):
        stands = ()
    if not stands or len({one.name for one in stands}) < len(stands):
        raise PlanError(
            f"{str(path)!r} is no kept solution: it has no sections with a name and bars each",
            hint="Give a plan file, or what 'pulsebridge plan PLAN --keep' keeps.",
        )
    return stands


def _name(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("a name is text")
    return value


def _bars(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value < 10**MAX_DIGITS:
        raise TypeError("bars are whole")
    return value


def _record(before: _Side, after: _Side, found: tuple[Change, ...]) -> dict[str, Any]:
    return {
        "changes": [
            {
                "do": str(one.do),
                "bars": one.bars,
                "at_bar": one.at_bar,
                "section": one.section,
                "why": one.why,
            }
            for one in found
        ],
        "old_bars": sum(one.bars for one in before.stands),
        "new_bars": sum(one.bars for one in after.stands),
        "settled": [one.name for one in after.stands if one.settled],
    }


def _lines(found: tuple[Change, ...]) -> list[str]:
    if not found:
        return ["nothing has to be done: both have the same bars"]
    return [f"{number:>3}. {_sentence(one)}" for number, one in enumerate(found, start=1)]


def _sentence(one: Change) -> str:
    bars = f"{one.bars} bar{'s' if one.bars != 1 else ''}"
    if one.do is Deed.RETIME:
        return f"stretch or play anew {bars} from {one.at_bar}: {one.section}, {one.why}"
    if one.do is Deed.INSERT:
        again = " (paste a copy of it)" if one.why == "moved" else ""
        return f"insert {bars} at {one.at_bar}: {one.section}, {one.why}{again}"
    keep = " (its copy stands elsewhere)" if one.why == "moved" else ""
    return f"cut {bars} at {one.at_bar}: {one.section}, {one.why}{keep}"
