"""The command ``schema``: the JSON Schema of the plan file or the host map."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from typing import Annotated, Any

import typer

from bridge.cli.output import print_json
from bridge.errors import UsageError

__all__ = ["command"]


def command(
    kind: Annotated[str, typer.Argument(help="Whose schema: plan or host.", metavar="[plan|host]")] = "plan",
    json_: Annotated[bool, typer.Option("--json", help="On one line, for a program.")] = False,
) -> None:
    """Print the JSON Schema (2020-12) of a file, so that an editor completes and checks it.

    \b
    Example:
      pulsebridge schema plan > plan.schema.json
    Then, as the first line of a plan, for editors with a YAML language server:
      # yaml-language-server: $schema=plan.schema.json
    """
    kinds = _kinds()
    if kind not in kinds:
        raise UsageError(
            f"there is no schema for {kind[:40]!r}; there are {', '.join(kinds)}",
            hint="See 'pulsebridge schema --help'.",
        )
    schema = kinds[kind]()
    if json_:
        print_json(schema)
        return
    sys.stdout.write(json.dumps(schema, indent=2) + "\n")


def _kinds() -> dict[str, Callable[[], dict[str, Any]]]:
    from bridge import hostmap, plan

    return {"plan": plan.schema, "host": hostmap.schema}
