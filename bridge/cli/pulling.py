"""``lay --pull``: how the host's markers differ from the plan, in words and as JSON; ``--take``.

This file knows what to say and how to edit the plan, but nothing about sockets.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from bridge.cli.laying import Job, Pulled, pull_song
from bridge.cli.output import note, print_json, safe
from bridge.cli.solving import kept_path, read_bytes, solve_plan
from bridge.errors import PeerError, PlanError
from bridge.lay import Difference, ReadBack, Standing
from bridge.plan import Plan, load
from bridge.plan.new_lengths import with_lengths
from bridge.shape import Infeasible, Solved
from bridge.song import PlacedSection
from bridge.store import write_atomically

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
    taking = None
    if take:
        taking = _take(job, path, pulled, effort=effort)
    if as_json:
        print_json(_record(job, pulled.found, taking))
    else:
        _show(pulled.found, taking)
    return _NOT_TAKEN if taking is not None and taking.refused else 0


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
    before = read_bytes(path, what="the plan")
    after, why = _edited(path, before, changed, wanted, effort=effort)
    if after is None:
        return _Taking(refused=why)
    if read_bytes(path, what="the plan") != before:
        return _Taking(refused="the plan file was changed meanwhile; pull again")
    write_atomically(path, after)
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


def _edited(
    path: Path, before: bytes, changed: dict[int, int], wanted: list[int], *, effort: int
) -> tuple[bytes | None, str]:
    """Return the plan with the new lengths, or why they cannot be taken.

    First the wishes are changed alone; where the planner would still choose otherwise, the
    bounds as well.
    """
    why = ""
    for bound in (False, True):
        try:
            text = with_lengths(before.decode("utf-8"), changed, bound=bound)
            plan = load(text, source=str(path), solved=_kept(path))
        except PlanError as error:
            return None, f"the plan would not load: {error.message}"
        why = _why_not(plan, wanted, effort)
        if not why:
            return text.encode("utf-8"), ""
    return None, why


def _why_not(plan: Plan, wanted: list[int], effort: int) -> str:
    outcome = solve_plan(plan, effort=effort)
    if isinstance(outcome, Infeasible):
        return "the plan could not be satisfied: " + "; ".join(one.text for one in outcome.conflict)
    if not isinstance(outcome, Solved):
        return "no solution of the changed plan was found; give more with --effort"
    pairs = zip(plan.sections, wanted, outcome.bars, strict=True)
    other = [f"{section.name!r} {got} bars, not {bars}" for section, bars, got in pairs if got != bars]
    return f"the planner would then give {', '.join(other)}" if other else ""


def _kept(path: Path) -> str | None:
    for kept in (kept_path(path), path.with_suffix(".solved.json")):
        if kept.is_file():
            return read_bytes(kept, what="the kept solution").decode("utf-8", "replace")
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
