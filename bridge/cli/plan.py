"""``pulsebridge plan``: solve a plan and show the song."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from bridge.cli.output import note, print_json
from bridge.cli.plan_table import show_conflict, show_song
from bridge.cli.solving import kept_path, load_plan, solve_plan
from bridge.exact import show_number
from bridge.shape import DEFAULT_EFFORT, Demand, Infeasible, Unknown
from bridge.song import solution_record, unroll

__all__ = ["command"]


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.", metavar="PLAN")],
    effort: Annotated[
        int,
        typer.Option(min=1, help="Steps the planner may take; more helps only where it says so."),
    ] = DEFAULT_EFFORT,
    keep: Annotated[bool, typer.Option("--keep", help="Keep the solution as PLAN.solved.json.")] = False,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Solve PLAN: every section's length in bars, proven the best or with a proven gap.

    \b
    Example:
      pulsebridge plan examples/low-tide-relay.yaml
    """
    loaded = load_plan(plan)
    outcome = solve_plan(loaded, effort=effort)
    if isinstance(outcome, Unknown):
        if json:
            print_json({"unknown": True, "steps": outcome.steps})
        else:
            note(f"Nothing found within {outcome.steps} steps, and no proof that nothing fits.")
            note("Give more steps with --effort, or loosen a demand.")
        return 1
    if isinstance(outcome, Infeasible):
        if json:
            print_json(_conflict_record(outcome))
        else:
            show_conflict(loaded, outcome)
        return 1
    song = unroll(loaded if outcome.tempo is None else loaded.at_tempo(outcome.tempo), outcome.bars)
    record = solution_record(song, outcome)
    if keep:
        _keep(plan, record)
    if json:
        print_json(record)
    else:
        show_song(song, outcome)
    return 0


def _conflict_record(outcome: Infeasible) -> dict[str, Any]:
    return {
        "tempo": None if outcome.tempo is None else show_number(outcome.tempo),
        "conflict": [{"demand": demand.text, "line": _line(demand)} for demand in outcome.conflict],
        "relaxations": [
            {"text": relaxation.text, "line": _line(relaxation.demand)} for relaxation in outcome.relaxations
        ],
    }


def _line(demand: Demand) -> int | None:
    return demand.where.line if demand.where else None


def _keep(plan: Path, record: dict[str, Any]) -> None:
    from bridge.store import write_atomically

    path = kept_path(plan)
    write_atomically(path, (json.dumps(record, indent=1, ensure_ascii=False) + "\n").encode())
    note(f"kept as {path}")
