"""The text of a plan file from plain fields, as a script builds them.

Dictionaries, lists and text in the shape of the plan file; every value may be text, since
that is how a plan is read.  This file does not check what it writes: loading does.
"""

from __future__ import annotations

from collections.abc import Mapping

__all__ = ["plan_text"]


def plan_text(fields: Mapping[str, object]) -> str:
    """Write ``fields`` as the text of a plan file, keys in the order given."""
    import yaml

    return yaml.safe_dump(
        dict(fields), sort_keys=False, allow_unicode=True, default_flow_style=None, width=100
    )
