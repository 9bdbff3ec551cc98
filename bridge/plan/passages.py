"""A section's ``free`` looked at beside its other keys and its neighbours: what makes no sense is refused.

This file knows nothing about how long anything else becomes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

from bridge.errors import PlanError
from bridge.exact import Meters
from bridge.plan.model import Free
from bridge.plan.models import NOT_WITH_FREE, PayOffEntry, SectionEntry
from bridge.plan.tempi import Given
from bridge.plan.tempo_entry import PivotTempo
from bridge.plan.values import Word

__all__ = ["free_passage", "refuse_around_free"]

_ITS_LENGTH = "its length is what 'free' says: so many seconds, and nothing to be planned"
_NO_HOMES = "no cycle turns in it, so nobody is home anywhere in it"
_NO_BEAT = "it has no bars and no beat"
_WHY = {
    "bars": _ITS_LENGTH,
    "length": _ITS_LENGTH,
    "same_length_as": _ITS_LENGTH,
    "weight": _ITS_LENGTH,
    "vamp": "it goes on until it is released as it is",
    "tempo": _NO_BEAT,
    "count_in": f"{_NO_BEAT} that could be counted in",
    "pickup": f"{_NO_BEAT} that a pickup could lead to",
    "runs_on": "it ends a run: what follows begins anew",
    "resolve": _NO_HOMES,
    "meets": _NO_HOMES,
    "tighten": _NO_HOMES,
}
"""The keys that say nothing about a free passage, each with the reason."""


def free_passage(
    entry: SectionEntry, meters: Meters, layer: Callable[[Word], str], layers: Mapping[str, object]
) -> tuple[Free, int, Given] | None:
    """Return what ``free`` asks for, with the bars and the tempo that stand for it; None without it.

    ``layer`` looks a name up, ``layers`` are those of the plan.  PlanError, with its place,
    beside a key that makes no sense with it.
    """
    if entry.free is None:
        return None
    _refuse_beside(entry)
    named = {layer(_name_alone(item, entry)) for item in entry.layers}
    free = Free(about=entry.free.about, layers=tuple(name for name in layers if name in named))
    try:
        bars, tempo = free.on_the_bar_axis(meters)
    except PlanError as error:
        raise error.at(entry.free.place_of("about")) from None
    return free, bars, Given(tempo=tempo)


def refuse_around_free(sections: Sequence[SectionEntry]) -> None:
    """Refuse what its neighbours or followers cannot ask of a free passage."""
    named = {section.name.text: section for section in sections}
    for section in sections:
        twin = named.get(section.same_length_as.text) if section.same_length_as else None
        if twin is not None and twin.free is not None and section.same_length_as is not None:
            raise PlanError(
                f"{section.name.text!r} cannot have as many bars as {twin.name.text!r}, which has none:"
                " it is a free passage",
                hint="Give it a length of its own, as in 'length: {about: 0:45}'.",
                where=section.same_length_as.where,
            )
    for before, section in pairwise(sections):
        if section.free is not None and before.runs_on:
            raise PlanError(
                f"{before.name.text!r} cannot run on into {section.name.text!r}, a free passage:"
                " no cycle goes on in it",
                hint="Take 'runs_on' out of it: the free passage ends the run.",
                where=before.key_places["runs_on"],
            )
        if before.free is not None:
            _refuse_leaning_on(before, section)


def _refuse_leaning_on(before: SectionEntry, section: SectionEntry) -> None:
    """Refuse a tempo or a pickup that needs a beat in the free passage ``before``."""
    if isinstance(section.tempo, PivotTempo):
        raise PlanError(
            f"a metric modulation refers to the tempo before, but {before.name.text!r} is a free passage"
            " and has none",
            hint="Write the tempo as a number, or leave it out for the song's.",
            where=section.place_of("tempo"),
        )
    if "pickup" in section.key_places:
        raise PlanError(
            f"the pickup of {section.name.text!r} would lie in {before.name.text!r}, a free passage,"
            " where there is no beat to play it on",
            hint="Take it out, or put a section of one bar between them.",
            where=section.key_places["pickup"],
        )


def _refuse_beside(entry: SectionEntry) -> None:
    for key, where in entry.key_places.items():
        if key in NOT_WITH_FREE:
            raise PlanError(
                f"{key!r} makes no sense in {entry.name.text!r}, a free passage: {_WHY[key]}",
                hint=f"Take {key!r} or 'free' out.",
                where=where,
            )
    if isinstance(entry.pays_off, PayOffEntry):
        raise PlanError(
            f"{entry.name.text!r} is a free passage: {_ITS_LENGTH}, so no ratio can be demanded of it",
            hint="Write 'pays_off: NAME' for a link; a later payoff may count its seconds.",
            where=entry.pays_off.key_places["ratio"],
        )


def _name_alone(item: Word | Mapping[Word, object], entry: SectionEntry) -> Word:
    if isinstance(item, Word):
        return item
    name = next(iter(item))
    raise PlanError(
        f"nothing can be other about {name.text!r} in {entry.name.text!r}, a free passage: {_NO_HOMES}",
        hint=f"Write its name alone: {name.text}.",
        where=name.where,
    )
