"""From the text of a plan file to a Plan.

This file knows nothing about files: it takes texts.
"""

from __future__ import annotations

from pydantic import ValidationError

from bridge.errors import InternalError
from bridge.plan.model import Plan
from bridge.plan.models import PlanFile, check_version
from bridge.plan.nodes import MapNode
from bridge.plan.solved import kept_bars
from bridge.plan.understand import understand
from bridge.plan.yaml_text import read_yaml

__all__ = ["read_plan"]


def read_plan(text: str | bytes, *, source: str | None = None, solved: str | None = None) -> Plan:
    """Read a plan; see :func:`bridge.plan.load`."""
    tree = read_yaml(text, source=source)
    version = tree.get("pulsebridge")
    if version is not None:
        check_version(version)
    file = _entries(tree)
    return understand(file, kept=kept_bars(file.sections, solved), source=source)


def _entries(tree: MapNode) -> PlanFile:
    try:
        return PlanFile.model_validate(tree)
    except ValidationError as error:
        raise InternalError(f"the plan's models refused what its readers let through: {error}") from error
