"""What every command that takes a plan does first: read it, solve it, compare with what was kept.

This file knows the disk and the planner, but nothing about what a command then does.
"""

from __future__ import annotations

import json
import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from bridge.cli.output import note
from bridge.errors import MusicError, UsageError
from bridge.exact import show_number
from bridge.plan import Plan, load
from bridge.shape import DEFAULT_EFFORT, Infeasible, Outcome, Solved, Unknown, solve
from bridge.song import Song, lost_cues, unroll

__all__ = [
    "kept_path",
    "load_plan",
    "note_lost_cues",
    "read_bytes",
    "solve_plan",
    "solved_song",
    "working",
]

_LARGEST = 4 * 2**20
"""Bytes: no plan or host map is longer, and reading a disk image by mistake should not take memory."""


def read_bytes(path: Path, *, what: str) -> bytes:
    """Return what a file of the user's holds; UsageError when it cannot be read or is too large."""
    try:
        with path.open("rb") as file:
            found = file.read(_LARGEST + 1)
    except OSError as error:
        raise UsageError(
            f"{what} {str(path)!r} cannot be read: {error.strerror or error}",
            hint="Give the path of an existing file.",
        ) from None
    if len(found) > _LARGEST:
        raise UsageError(f"{what} {str(path)!r} is larger than {_LARGEST // 2**20} MiB")
    return found


def kept_path(path: Path) -> Path:
    """Return where ``plan --keep`` keeps the solution: ``PLAN.solved.json`` beside the plan."""
    return path.with_name(path.name + ".solved.json")


def load_plan(path: Path) -> Plan:
    """Read the plan at ``path``, with the kept solution beside it where there is one."""
    kept = _kept_text(path)
    return load(read_bytes(path, what="the plan"), source=str(path), solved=kept)


def solve_plan(plan: Plan, *, effort: int = DEFAULT_EFFORT) -> Outcome:
    """Solve ``plan``; on a terminal, say so on stderr for as long as it takes."""
    with working("planning ..."):
        return solve(plan, effort=effort)


def working(words: str) -> AbstractContextManager[object]:
    """Show ``words`` on stderr for as long as the block takes; only on a terminal."""
    if not sys.stderr.isatty():
        return nullcontext()
    from rich.console import Console

    return Console(stderr=True, markup=False).status(words)


def solved_song(path: Path, *, effort: int = DEFAULT_EFFORT) -> tuple[Song, Solved]:
    """Load and solve the plan at ``path``; MusicError when nothing fits or nothing was found.

    Says on stderr when the solution is unproven, or differs from the one that was kept.
    """
    plan = load_plan(path)
    outcome = solve_plan(plan, effort=effort)
    if isinstance(outcome, Infeasible):
        demands = "; ".join(demand.text for demand in outcome.conflict)
        raise MusicError(
            f"the plan cannot be satisfied: {demands}",
            hint=f"See 'pulsebridge plan {path}' for what would help.",
        )
    if isinstance(outcome, Unknown):
        raise MusicError(
            f"no solution was found within {outcome.steps} steps, nor a proof that there is none",
            hint="Give more with --effort, or loosen a demand.",
        )
    if not outcome.proven:
        far = f"{float(outcome.gap):.2%}"
        note(f"note: the solution is at most {far} from the best; --effort allows more steps")
    _compare(path, plan, outcome)
    song = unroll(plan if outcome.tempo is None else plan.at_tempo(outcome.tempo), outcome.bars)
    note_lost_cues(song)
    return song, outcome


def note_lost_cues(song: Song) -> None:
    """Say on stderr which of the plan's cues fall nowhere, and why."""
    for lost in lost_cues(song):
        where = f" ({lost.where})" if lost.where else ""
        note(f"note: {lost}{where}")


def _kept_text(path: Path) -> str | None:
    for kept in (kept_path(path), path.with_suffix(".solved.json")):
        if kept.is_file():
            return read_bytes(kept, what="the kept solution").decode("utf-8", "replace")
    return None


def _compare(path: Path, plan: Plan, solved: Solved) -> None:
    text = _kept_text(path)
    if text is None:
        return
    try:
        record = json.loads(text)
        kept = {section["name"]: section["bars"] for section in record["sections"]}
        tempo = record.get("tempo")
    except (ValueError, KeyError, TypeError, AttributeError):
        note(f"note: {kept_path(path).name} is no solution kept by 'plan --keep'; it was not compared")
        return
    now = {section.name: bars for section, bars in zip(plan.sections, solved.bars, strict=True)}
    if solved.tempo is not None and tempo not in (None, show_number(solved.tempo)):
        note(f"note: the tempo is {show_number(solved.tempo)}; the kept solution has {tempo}")
    if now != kept:
        changed = [name for name in {**kept, **now} if kept.get(name) != now.get(name)]
        note(
            f"note: this solution differs from the kept one ({kept_path(path).name}) in: {', '.join(changed)}"
        )
