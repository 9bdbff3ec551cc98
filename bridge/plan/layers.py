"""A layer out of its keys: exactly one of cycle, groups, pulses and pattern, each with what it needs.

This file knows nothing about sections.
"""

from __future__ import annotations

from dataclasses import replace

from bridge.cycles.layer import Kind
from bridge.errors import PlanError
from bridge.exact import Bars, Length, Meters, Ratio
from bridge.plan.layer_plan import LayerPlan, Stay
from bridge.plan.sounding import ChangeEntry, CycleEntry, LayerEntry

__all__ = ["changed_layer", "layer_plan", "stay_of"]

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


def changed_layer(layer: LayerPlan, entry: ChangeEntry) -> LayerPlan:
    """Return ``layer`` with what is other in one section; start and rate stay unless they are given."""
    start = layer.start if entry.start is None else entry.start
    rate = layer.rate if entry.rate is None else Ratio(entry.rate)
    changed = replace(layer, start=start, rate=rate)
    if not any(key in _KEYS for key in entry.key_places):
        return changed
    _refuse_two_ways(layer.name, entry)
    cycle, kind, place = _cycle(entry)
    return replace(
        changed,
        cycle=cycle,
        kind=kind,
        groups=entry.groups or (),
        pulses=entry.pulses or 0,
        pattern=entry.pattern,
        where=entry.place_of(place),
    )


def stay_of(name: str, entry: ChangeEntry, meters: Meters) -> Stay:
    """Return when the layer sounds in a section with these meters; PlanError when it never would."""
    enters, leaves = (
        None if into is None else meters.of_bars(into.count) if isinstance(into, Bars) else into
        for into in (entry.enters, entry.leaves)
    )
    if enters is not None and leaves is not None and leaves <= enters:
        raise PlanError(
            f"{name!r} leaves before it enters, or at once: it would never sound",
            hint="Let it leave later than it enters, or take it out of the section.",
            where=entry.key_places["leaves"],
        )
    return Stay(enters=enters, leaves=leaves)


def _cycle(entry: CycleEntry) -> tuple[Length | Bars, Kind, str]:
    """Return the cycle, how it was given, and the key that a message about it points at."""
    if entry.groups and entry.unit:
        return entry.unit * sum(entry.groups), Kind.GROUPS, "groups"
    if entry.pattern and entry.unit:
        return entry.unit * len(entry.pattern.steps), Kind.PATTERN, "pattern"
    if entry.over is not None:
        return entry.over, Kind.PULSES, "over"
    if entry.cycle is not None:
        return entry.cycle, Kind.CYCLE, "cycle"
    raise PlanError("a layer has no cycle", hint=entry.instead, where=entry.where)


def _refuse_two_ways(name: str, entry: CycleEntry) -> None:
    """Refuse a layer without a cycle, one with two, and one whose way lacks a key or has one too many."""
    given = [key for key in entry.key_places if key in _KEYS]
    fitting = [keys for keys in _WAYS.values() if set(given) <= set(keys)]
    if not given or not fitting:
        found = f"both {' and '.join(map(repr, given))}" if given else "no cycle"
        raise PlanError(
            f"the layer {name!r} has {found}; a cycle is given in exactly one way",
            hint=entry.instead,
            where=entry.key_places[given[1]] if given else entry.where,
        )
    if missing := [key for key in fitting[0] if key not in given]:
        raise PlanError(
            f"the layer {name!r} has {given[0]!r} but not {missing[0]!r}; the two go together",
            hint=entry.instead,
            where=entry.key_places[given[0]],
        )
