"""The hard demands of a plan, one by one, in plain words.

A demand is what can be dropped on its own to see whether the rest then fits.  Wishes
(``about``) are no demands.  This file knows nothing about solving.
"""

from __future__ import annotations

from enum import StrEnum

from bridge.errors import Where
from bridge.exact import Bars, Seconds, show_number, show_seconds
from bridge.plan.model import Plan, Section
from bridge.shape.outcome import Demand

__all__ = ["DAY", "Key", "Kind", "describe", "hard_demands"]

DAY = 24 * 60 * 60
"""Seconds that a song may last at most."""


class Kind(StrEnum):
    """What kind of demand; the values are the keys of the plan file where it stands under one."""

    BARS = "bars"
    SETTLED = "settled"
    AT_LEAST = "at_least"
    AT_MOST = "at_most"
    SAME_LENGTH = "same_length_as"
    PAYS_OFF = "pays_off"
    RESOLVE = "resolve"
    MEETS = "meets"
    TIGHTEN = "tighten"
    LAYERS = "layers"
    VAMP = "vamp"
    FREE = "free"
    WITHIN = "within"
    DAY = "day"


Key = tuple[Kind, int | None]
"""A kind and the index of its section, or None where the whole song is meant."""


def hard_demands(plan: Plan) -> tuple[Key, ...]:
    """List every hard demand of ``plan``, those of the whole song last."""
    keys = [(kind, section.index) for section in plan.sections for kind in _of_section(section)]
    found: list[Key] = list(keys)
    if plan.total is not None and plan.total.within is not None:
        found.append((Kind.WITHIN, None))
    return (*found, (Kind.DAY, None))


def describe(plan: Plan, key: Key) -> Demand:
    """Say what the demand asks, and where it stands."""
    kind, index = key
    if index is None:
        return Demand(text=_of_song(plan, kind), where=_song_mark(plan, kind), kind=kind)
    section = plan.sections[index]
    mark = section.marks.get(kind) or section.marks.get("length" if "at_" in kind else "name")
    return Demand(text=_text(plan, section, kind), section=index, where=mark, kind=kind)


def _of_section(section: Section) -> list[Kind]:
    asked = {
        Kind.SETTLED: section.settled_bars is not None,
        Kind.BARS: section.bars is not None and section.free is None,
        Kind.AT_LEAST: section.at_least is not None,
        Kind.AT_MOST: section.at_most is not None,
        Kind.SAME_LENGTH: section.same_length_as is not None,
        Kind.PAYS_OFF: section.pays_off is not None and bool(section.pays_off.ratio),
        Kind.RESOLVE: bool(section.resolve),
        Kind.MEETS: section.meets_once,
        Kind.TIGHTEN: section.tighten is not None,
        Kind.LAYERS: bool(section.stays),
        Kind.VAMP: section.vamp is not None and section.vamp.at_least is not None,
        Kind.FREE: section.free is not None,
    }
    return [kind for kind, is_asked in asked.items() if is_asked]


def _text(plan: Plan, section: Section, kind: Kind) -> str:
    name, who = section.name, _names(section.resolve) if section.resolve else "nobody"
    if kind is Kind.PAYS_OFF:
        return _pays_off(plan, section)
    other = plan.sections[section.same_length_as or 0].name
    return {
        Kind.BARS: f"{name} has {Bars(section.bars or 0)}",
        Kind.SETTLED: f"{name} is settled at {Bars(section.settled_bars or 0)}",
        Kind.AT_LEAST: f"{name} lasts at least {section.at_least}",
        Kind.AT_MOST: f"{name} lasts at most {section.at_most}",
        Kind.SAME_LENGTH: f"{name} has as many bars as {other}",
        Kind.MEETS: f"{who} meet in {name} only at its end",
        Kind.TIGHTEN: _tighten(section),
        Kind.LAYERS: _stays(section),
        Kind.VAMP: f"{name}, a vamp, lasts at least {section.vamp.at_least}" if section.vamp else "",
        Kind.FREE: f"{name}, a free passage, lasts {Seconds(section.free.about)}" if section.free else "",
        Kind.RESOLVE: f"{who} {'is' if len(section.resolve) == 1 else 'are'} home at the end of {name}",
    }[kind]


def _stays(section: Section) -> str:
    who = tuple(section.stays)
    verbs = "comes in or leaves" if len(who) == 1 else "come in or leave"
    return f"{_names(who)} {verbs} within {section.name}" if who else ""


def _tighten(section: Section) -> str:
    if section.tighten is None:
        return ""
    over = Bars(section.tighten.found.bars)
    return f"{section.tighten.layer} tightens from a home on over the last {over} of {section.name}"


def _pays_off(plan: Plan, section: Section) -> str:
    if section.pays_off is None or section.pays_off.ratio is None:
        raise ValueError(f"{section.name!r} pays nothing off by a ratio")
    built = _names(tuple(plan.sections[index].name for index in section.pays_off.sections))
    together = " together" if len(section.pays_off.sections) > 1 else ""
    ratio = section.pays_off.ratio
    times = "as long as" if ratio == 1 else f"{show_number(ratio)} times as long as"
    return f"{section.name} lasts at least {times} {built}{together}"


def _of_song(plan: Plan, kind: Kind) -> str:
    if kind is Kind.DAY:
        return "a song lasts at most 24 hours"
    if plan.total is None or plan.total.within is None:
        raise ValueError("this plan sets no bounds to its total")
    low = max(plan.total.about - plan.total.within, type(plan.total.about)(0))
    return f"the total is {show_seconds(low)} to {show_seconds(plan.total.about + plan.total.within)}"


def _song_mark(plan: Plan, kind: Kind) -> Where | None:
    if kind is Kind.DAY or plan.total is None:
        return None
    marks = plan.total.marks
    return marks.get("within") or marks.get("about") or next(iter(marks.values()), None)


def _names(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
