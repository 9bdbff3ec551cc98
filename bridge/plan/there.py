"""Who sounds in one section: each layer as it is there, and when.

This file knows nothing about the sections before it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.errors import PlanError
from bridge.exact import Meters
from bridge.plan.layer_plan import LayerPlan, Stay
from bridge.plan.layers import changed_layer, stay_of
from bridge.plan.models import SectionEntry
from bridge.plan.sounding import ChangeEntry

__all__ = ["There", "refuse_tightening_with", "who_is_there"]

_WHOLLY = Stay()


@dataclass(frozen=True, slots=True, kw_only=True)
class There:
    """The layers that sound in a section, in the plan's order, and those that come late or go early."""

    given: Mapping[str, LayerPlan]
    stays: Mapping[str, Stay]

    def enters(self, name: str) -> bool:
        """Tell whether the layer comes in after the section's start."""
        return self.stays.get(name, _WHOLLY).enters is not None

    def leaves(self, name: str) -> bool:
        """Tell whether the layer falls silent before the section's end, or may do so."""
        return self.stays.get(name, _WHOLLY).leaves is not None


def who_is_there(
    named: Mapping[str, ChangeEntry | None], layers: Mapping[str, LayerPlan], meters: Meters
) -> There:
    """Work out who is in a section with these meters; PlanError, with its place, for what cannot be."""
    given, stays = {}, {}
    for name, change in named.items():
        given[name] = layers[name]
        if change is None:
            continue
        if not change.key_places:
            raise PlanError(
                f"nothing is said about {name!r}",
                hint=f"{change.instead} Or write its name alone.",
                where=change.where,
            )
        given[name] = changed_layer(layers[name], change)
        stay = stay_of(name, change, meters)
        if stay != _WHOLLY:
            stays[name] = stay
    return There(given=given, stays=stays)


def refuse_tightening_with(entry: SectionEntry, there: There) -> None:
    """Refuse a tightening of a layer that leaves, or that is to meet the others once only."""
    if entry.tighten is None:
        return
    name = entry.tighten.layer.text
    if there.leaves(name):
        raise PlanError(
            f"{name!r} cannot tighten towards the end of {entry.name.text!r}: it leaves before",
            hint="Take 'leaves' or 'tighten' out.",
            where=entry.key_places["tighten"],
        )
    if entry.meets is not None:
        raise PlanError(
            f"'meets: once' cannot be asked of {entry.name.text!r}, where {name!r} tightens:"
            " no plan can be made around meetings with a cycle that keeps changing",
            hint="Take 'meets' or 'tighten' out.",
            where=entry.key_places["meets"],
        )
