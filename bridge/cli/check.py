"""``pulsebridge check``: readings on the form of a plan, each with its reason and a remedy."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.cli.output import print_json
from bridge.cli.solving import solved_song, working
from bridge.shape import DEFAULT_EFFORT

__all__ = ["command"]


def command(
    plan: Annotated[Path, typer.Argument(help="The plan file.", metavar="PLAN")],
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit 1 when the plan leaves a reading unaccepted.")
    ] = False,
    effort: Annotated[
        int,
        typer.Option(min=1, help="Steps the planner may take for the plan, and for each change to it."),
    ] = DEFAULT_EFFORT,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Read PLAN as an experienced writer would: where it may bore, why, and what would help.

    All of it is advice. Each remedy was tried: the changed plan was solved, and the remedy
    clears its reading and brings no other. What you mean so, accept in the plan, with a reason.

    \b
    Example:
      pulsebridge check examples/low-tide-relay.yaml
    """
    from bridge.cli.check_words import report_lines, report_record
    from bridge.cli.output import write_lines
    from bridge.form import read_form

    song, solved = solved_song(plan, effort=effort)
    with working("looking for what would help ..."):
        report = read_form(song.plan, solved.bars, effort=effort)
    if json:
        print_json(report_record(report))
    else:
        write_lines(report_lines(report))
    return 1 if strict and report.open else 0
