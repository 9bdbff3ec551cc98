"""``lay --pull``: how the host's markers differ from the plan, in words and as JSON; ``--take``.

This file knows what to say and how to edit the plan, but nothing about sockets.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from bridge.cli import taking
from bridge.cli.laying import Job, Pulled, pull_song
from bridge.cli.output import note, print_json, safe
from bridge.errors import PeerError
from bridge.lay import Difference, ReadBack, Standing
from bridge.song import PlacedSection

__all__ = ["pull"]

_FAILED, _NOT_TAKEN = 3, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class _Taking:
    """What came of taking the host's lengths: the sections changed, or why nothing was."""

    changed: tuple[tuple[str, int, int], ...] = ()
    refused: str | None = None


def pull(job: Job, path: Path, *, take: bool, effort: int, as_json: bool) -> int:
    """Read the host's markers, say how they differ, and take their lengths into the plan if asked."""
    pulled = pull_song(job, tell=note)
    if pulled.found is None:
        raise PeerError(
            f"nothing answers at {job.host.send_to}, so nothing could be read",
            hint="Does the host run, and does it send to receive_on of the host map?",
        )
    if not pulled.certain:
        note("warning: so much was lost on the way that not all may have been seen")
    taken = None
    if take:
        taken = _take(job, path, pulled, effort=effort)
    if as_json:
        print_json(_record(job, pulled.found, taken))
    else:
        _show(pulled.found, taken)
    return _NOT_TAKEN if taken is not None and taken.refused else 0


def _take(job: Job, path: Path, pulled: Pulled, *, effort: int) -> _Taking:
    found = pulled.found
    if found is None:
        raise RuntimeError("there is nothing to take")
    planned = [placed.bars for placed in job.song.sections]
    why = _cannot_take(job, found, certain=pulled.certain)
    if why is not None:
        return _Taking(refused=why)
    wanted = [bars for bars in found.lengths if bars is not None]
    changed = {i: bars for i, bars in enumerate(wanted) if bars != planned[i]}
    if not changed:
        return _Taking()
    why = taking.take(path, changed, others=dict(enumerate(wanted)), effort=effort)
    if why is not None:
        return _Taking(refused=why)
    names = [placed.name for placed in job.song.sections]
    return _Taking(changed=tuple((names[i], planned[i], bars) for i, bars in changed.items()))


def _cannot_take(job: Job, found: ReadBack, *, certain: bool) -> str | None:
    if not certain:
        return "not all of the host's markers may have been seen"
    first = found.differences[0]
    if first.bar is not None and first.bar != first.planned_bar:
        return f"{first.name!r} itself was moved: where the song begins in the host is the plan's 'origin'"
    for one in found.differences:
        if one.bar is None:
            off = f"stands off the barline, at {one.at}" if one.at else "is not to be found in the host"
            return f"the marker {one.name!r} {off}"
    every = zip(job.song.sections, found.lengths, strict=True)
    return next((why for placed, bars in every if (why := _cannot_have(placed, bars))), None)


def _cannot_have(placed: PlacedSection, bars: int | None) -> str | None:
    """Say why a section cannot be given so many bars; None where it can, or has them."""
    if bars is None or bars < 1:
        return f"{placed.name!r} would end before it begins"
    if bars == placed.bars:
        return None
    if placed.section.settled_bars is not None:
        return f"{placed.name!r} is settled: it has been recorded with {placed.bars} bars"
    if placed.section.free is not None:
        return f"{placed.name!r} is a free passage: how long it lasts stands in the plan under 'free'"
    return None


def _record(job: Job, found: ReadBack, taking: _Taking | None) -> dict[str, Any]:
    pairs = zip(job.song.sections, found.lengths, strict=True)
    return {
        "markers": [_marker(one) for one in found.differences],
        "sections": [{"name": p.name, "bars": p.bars, "host_bars": bars} for p, bars in pairs],
        "others": found.others,
        "agrees": found.agrees,
        "taken": None
        if taking is None
        else [{"name": name, "from": old, "to": new} for name, old, new in taking.changed],
        "refused": None if taking is None else taking.refused,
    }


def _marker(one: Difference) -> dict[str, Any]:
    return {
        "name": one.name,
        "standing": str(one.standing),
        "planned_bar": one.planned_bar,
        "bar": one.bar,
        "at": one.at,
        "moved_bars": one.moved_bars,
        "home": one.home,
        "nearest_bars": list(one.nearest),
    }


def _show(found: ReadBack, taking: _Taking | None) -> None:
    for one in found.differences:
        if one.standing is not Standing.IN_PLACE:
            typer.echo(safe(_sentence(one)))
    if found.agrees:
        typer.echo(f"all {len(found.differences)} markers stand where the plan wants them")
    if found.others:
        typer.echo(f"{found.others} other markers are yours")
    if taking is None:
        return
    if taking.refused:
        note(f"pulsebridge: nothing was taken: {taking.refused}")
    for name, old, new in taking.changed:
        typer.echo(safe(f"taken into the plan: {name} has {new} bars (had {old})"))
    if not taking.changed and not taking.refused:
        typer.echo("no length differs: the plan stays as it is")


def _sentence(one: Difference) -> str:
    """Say how one marker differs, as a colleague would."""
    if one.standing is Standing.MISSING:
        return f"{one.name} is not in the host"
    if one.standing is Standing.UNCLEAR:
        return f"{one.name}: several markers have this name, and none stands where the plan wants it"
    if one.bar is None or one.moved_bars is None:
        return f"{one.name} stands off the barline, at {one.at} (planned: bar {one.planned_bar})"
    far = abs(one.moved_bars)
    bars = f"{far} bar{'s' if far != 1 else ''} {'later' if one.moved_bars > 0 else 'earlier'}"
    verb = "was moved" if one.standing is Standing.MOVED else "stands"
    told = f"{one.name} {verb} {bars}, to bar {one.bar}" if far else f"{one.name} stands beside bar {one.bar}"
    return told + _home(one)


def _home(one: Difference) -> str:
    if one.home is None:
        return ""
    if one.home:
        return ": all come home there"
    good = f"; nearest good places {' and '.join(map(str, one.nearest))}" if one.nearest else ""
    return f": the layers are not home there{good}"
