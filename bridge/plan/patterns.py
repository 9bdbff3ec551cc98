"""``pattern`` in a plan file: the steps of one voice, as in ``x..x..x.``.

How patterns are read is the business of :mod:`bridge.craft.pattern`.  This file knows
nothing about the layer that has one.
"""

from __future__ import annotations

from bridge.craft.pattern import MOST_STEPS, Pattern
from bridge.errors import PlanError
from bridge.plan.nodes import MapNode, Node
from bridge.plan.values import Reads, text_reader

__all__ = ["one_voice"]


def one_voice() -> Reads:
    """Make a field for a pattern of one voice; several voices are refused with what to do instead."""
    one = text_reader(Pattern.parse, "a pattern")

    def read(node: Node) -> Pattern:
        if isinstance(node, MapNode):
            raise PlanError(
                "a layer has one pattern; several voices are several layers",
                hint="Give each voice a layer of its own, as in 'low drum: {pattern: x..x..x., unit: 1/8}';"
                " one player may own them all.",
                where=node.where,
            )
        pattern: Pattern = one(node)
        return pattern

    steps = rf"^[|\s]*([.xX][|\s]*){{1,{MOST_STEPS}}}$"
    return Reads(read, {"type": "string", "pattern": steps, "not": {"pattern": r"^[^xX]*$"}})
