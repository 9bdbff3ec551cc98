"""The plan file: its models, its loader with line numbers, its schema.

Loading, writing and the schema need YAML and pydantic; they are imported when first
used, so that whoever only needs the model does not pay for them.
"""

from __future__ import annotations

from typing import Any

from bridge.plan.accepting import READINGS, Accept, Measure
from bridge.plan.model import LayerPlan, Origin, PayOff, Pivot, Plan, Section, Total
from bridge.plan.played import with_played

__all__ = [
    "READINGS",
    "Accept",
    "LayerPlan",
    "Measure",
    "Origin",
    "PayOff",
    "Pivot",
    "Plan",
    "Section",
    "Total",
    "dump",
    "load",
    "schema",
    "with_played",
]


def load(text: str | bytes, *, source: str | None = None, solved: str | None = None) -> Plan:
    """Read a plan from its text.

    ``source`` is the name for messages; ``solved`` the JSON that ``plan --json`` printed,
    needed where a section is ``settled``.  PlanError, with its place, for anything that
    is not a plan.
    """
    from bridge.plan.reading import read_plan

    return read_plan(text, source=source, solved=solved)


def dump(plan: Plan) -> str:
    """Write ``plan`` as the text of a plan file that loads as an equal plan.

    Comments, spelling and order of keys are not kept.  PlanError for a plan made by a
    program whose numbers no plan file can hold.
    """
    from bridge.plan.writing import write_plan

    return write_plan(plan)


def schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the plan file."""
    from bridge.plan.json_schema import plan_schema

    return plan_schema()
