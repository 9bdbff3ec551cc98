"""Layers as a recipe is given them: ``band=4 bars, hand drum=3/16``.

The text of each cycle is kept as written, for the plan that a recipe writes.  This file
knows nothing about plans.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.cycles import Layer, fixed_cycle
from bridge.errors import PlanError
from bridge.exact import Bars, Length, Meters, parse_bars, parse_number
from bridge.exact.name import clean_name

__all__ = ["as_layers", "named_cycles"]


def named_cycles(text: str) -> dict[str, str]:
    """Read ``band=4 bars, hand drum=3/16``: each name and the text of its cycle, in order.

    PlanError where a part is not NAME=CYCLE, or a name comes twice.
    """
    found: dict[str, str] = {}
    for part in text.split(","):
        name, equals, cycle = part.rpartition("=")
        if not equals or not cycle.strip():
            raise PlanError(
                f"a layer is NAME=CYCLE, not {part.strip()[:40]!r}",
                hint="Write them as in 'band=4 bars, hand drum=3/16'.",
            )
        name = clean_name(name, what="the name of a layer", commas=False)
        if name in found:
            raise PlanError(f"there are two layers named {name!r}", hint="Give each a name of its own.")
        found[name] = cycle.strip()
    return found


def as_layers(cycles: Mapping[str, str], meters: Meters) -> list[Layer]:
    """Return the layers with these cycles, each in bars or whole notes, home where they enter."""
    return [
        Layer(name=name, cycle=fixed_cycle(_cycle(text), meters, name=name)) for name, text in cycles.items()
    ]


def _cycle(text: str) -> Length | Bars:
    if "bar" in text:
        return parse_bars(text, what="a cycle")
    return Length(parse_number(text, what="a cycle"))
