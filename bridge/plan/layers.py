"""A layer out of its keys: exactly one of cycle, groups, pulses and pattern, each with what it needs.

This file knows nothing about sections.
"""

from __future__ import annotations

from bridge.cycles.layer import Kind
from bridge.errors import PlanError
from bridge.exact import Bars, Length, Ratio
from bridge.plan.model import LayerPlan
from bridge.plan.models import LayerEntry

__all__ = ["layer_plan"]

_WAYS = {
    "cycle": ("cycle",),
    "groups": ("groups", "unit"),
    "pulses": ("pulses", "over"),
    "pattern": ("pattern", "unit"),
}
"""Each way to give a cycle, and the keys that it takes."""
_KEYS = tuple(dict.fromkeys(key for keys in _WAYS.values() for key in keys))


def layer_plan(name: str, entry: LayerEntry) -> LayerPlan:
    """Return the layer; PlanError unless its cycle is given in exactly one way, complete."""
    _refuse_two_ways(name, entry)
    cycle, kind, place = _cycle(entry)
    return LayerPlan(
        name=name,
        cycle=cycle,
        kind=kind,
        groups=entry.groups or (),
        pulses=entry.pulses or 0,
        pattern=entry.pattern,
        start=entry.start,
        rate=Ratio(entry.rate),
        player=entry.player.text if entry.player else None,
        where=entry.place_of(place),
    )


def _cycle(entry: LayerEntry) -> tuple[Length | Bars, Kind, str]:
    """Return the cycle, how it was given, and the key that a message about it points at."""
    if entry.groups and entry.unit:
        return entry.unit * sum(entry.groups), Kind.GROUPS, "groups"
    if entry.pattern and entry.unit:
        return entry.unit * len(entry.pattern.steps), Kind.PATTERN, "pattern"
    if entry.over is not None:
        return entry.over, Kind.PULSES, "over"
    if entry.cycle is not None:
        return entry.cycle, Kind.CYCLE, "cycle"
    raise PlanError("a layer has no cycle", hint=LayerEntry.instead, where=entry.where)


def _refuse_two_ways(name: str, entry: LayerEntry) -> None:
    """Refuse a layer without a cycle, one with two, and one whose way lacks a key or has one too many."""
    given = [key for key in entry.key_places if key in _KEYS]
    fitting = [keys for keys in _WAYS.values() if set(given) <= set(keys)]
    if not given or not fitting:
        found = f"both {' and '.join(map(repr, given))}" if given else "no cycle"
        raise PlanError(
            f"the layer {name!r} has {found}; a cycle is given in exactly one way",
            hint=LayerEntry.instead,
            where=entry.key_places[given[1]] if given else entry.where,
        )
    if missing := [key for key in fitting[0] if key not in given]:
        raise PlanError(
            f"the layer {name!r} has {given[0]!r} but not {missing[0]!r}; the two go together",
            hint=LayerEntry.instead,
            where=entry.key_places[given[0]],
        )
