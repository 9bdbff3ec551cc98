"""``pulsebridge plan``: solve a plan and show the song."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from bridge.cli.output import note, print_json
from bridge.cli.plan_table import show_conflict, show_song
from bridge.cli.solving import kept_path, load_plan, note_lost_cues, solve_plan
from bridge.errors import MusicError, UsageError
from bridge.exact import parse_number, parse_whole, show_number
from bridge.plan import Plan, with_played
from bridge.shape import DEFAULT_EFFORT, Demand, Infeasible, Unknown
from bridge.song import solution_record, unroll

__all__ = ["command"]


def command(
    *,
    plan: Annotated[Path, typer.Argument(help="The plan file.", metavar="PLAN")],
    effort: Annotated[
        int,
        typer.Option(min=1, help="Steps the planner may take; more helps only where it says so."),
    ] = DEFAULT_EFFORT,
    keep: Annotated[bool, typer.Option("--keep", help="Keep the solution as PLAN.solved.json.")] = False,
    played: Annotated[
        list[str] | None,
        typer.Option(
            help="This section was played with so many bars, or left out (0): plan the rest; several times.",
            metavar="NAME=BARS",
        ),
    ] = None,
    tempo: Annotated[
        str | None,
        typer.Option(help="Take this tempo of the range that the plan leaves open.", metavar="BPM"),
    ] = None,
    give: Annotated[
        list[str] | None,
        typer.Option(
            help="Write into the plan file that this section has so many bars; several times.",
            metavar="NAME=BARS",
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Solve PLAN: every section's length in bars, proven the best or with a proven gap.

    With --played, what has been played is fact, and the rest is planned anew.

    \b
    Example:
      pulsebridge plan examples/low-tide-relay.yaml
      pulsebridge plan examples/low-tide-relay.yaml --played Prelude=16 --played "Slack Water=32"
    """
    if keep and played:
        raise UsageError("--keep keeps the solution of the whole plan", hint="Leave out --keep, or --played.")
    if give:
        _give(plan, dict(map(_name_and_bars, give)), effort=effort)
    loaded = _as_played(load_plan(plan), tempo, played or [])
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
    note_lost_cues(song)
    record = solution_record(song, outcome)
    if keep:
        _keep(plan, record)
    if json:
        print_json(record)
    else:
        show_song(song, outcome)
    return 0


def _as_played(plan: Plan, tempo: str | None, played: list[str]) -> Plan:
    """Return the plan at the tempo that was chosen, with what has been played of it."""
    if tempo is not None:
        if plan.tempo_range is None:
            raise UsageError("the plan says its tempo", hint="Leave out --tempo: it chooses from a range.")
        plan = plan.at_tempo(parse_number(tempo))
    return with_played(plan, dict(map(_name_and_bars, played))) if played else plan


def _give(path: Path, bars: dict[str, int], *, effort: int) -> None:
    from bridge.cli import taking

    names = {section.name: section.index for section in load_plan(path).sections}
    unknown = next((name for name in bars if name not in names), None)
    if unknown is not None:
        raise UsageError(
            f"no section of the plan is called {unknown!r}", hint=f"There are {', '.join(names)}."
        )
    why = taking.take(path, {names[name]: count for name, count in bars.items()}, others={}, effort=effort)
    if why is not None:
        raise MusicError(
            f"nothing was written: {why}", hint="Give other bars, or loosen a demand of the plan."
        )


def _name_and_bars(text: str) -> tuple[str, int]:
    name, equals, bars = text.rpartition("=")
    if not equals or not name:
        raise UsageError(
            f"a section and its bars are NAME=BARS, not {text[:80]!r}", hint='Write "Slack Water=32".'
        )
    return name, parse_whole(bars, what=f"the bars of {name!r}")


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
