"""Every plan there is, one by one: the plainest way to plan, and the slowest.

Written from the contract alone, with Fractions and walks along the bars; it shares
nothing with the planner but the exact types.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from bridge.exact import Bars, Length, Span, seconds_of
from bridge.plan.model import Plan, Section

__all__ = ["cheapest_plan", "cost", "is_allowed", "is_allowed_alone"]

DAY = 24 * 60 * 60


def cheapest_plan(plan: Plan, most: int) -> tuple[tuple[int, ...], Fraction, Fraction] | None:
    """Return bars, cost and how far the total is off, trying every number of bars up to ``most``."""
    best = None
    for bars in _walk(plan, (), most):
        if is_allowed(plan, bars):
            key = (cost(plan, bars), off(plan, bars))
            if best is None or key < best[1]:
                best = bars, key
    return best and (best[0], *best[1])


def seconds(section: Section, bars: int) -> Fraction:
    return seconds_of(section.meters.of_bars(bars), section.tempo)


def all_seconds(plan: Plan, bars: tuple[int, ...]) -> Fraction:
    return sum((seconds(s, n) for s, n in zip(plan.sections, bars, strict=False)), Fraction(0))


def off(plan: Plan, bars: tuple[int, ...]) -> Fraction:
    return abs(all_seconds(plan, bars) - plan.total.about) if plan.total else Fraction(0)


def cost(plan: Plan, bars: tuple[int, ...]) -> Fraction:
    wishes = sum((_wish(s, n) for s, n in zip(plan.sections, bars, strict=True)), Fraction(0))
    return wishes + (plan.total.weight * off(plan, bars) if plan.total else 0)


def _wish(section: Section, bars: int) -> Fraction:
    if section.about is None:
        return Fraction(0)
    lasts = seconds(section, bars)
    if isinstance(section.about, Bars):
        length, wished = (section.meters.of_bars(n).whole_notes for n in (bars, section.about.count))
        return section.weight * abs(length - wished) * lasts / length
    return section.weight * abs(lasts - section.about.value)


def _walk(plan: Plan, so_far: tuple[int, ...], most: int) -> Iterator[tuple[int, ...]]:
    """Yield bars for every section; only cuts off what its own bounds forbid."""
    if len(so_far) == len(plan.sections):
        yield so_far
        return
    section = plan.sections[len(so_far)]
    for bars in range(1, most + 1):
        if _within_own_bounds(section, bars):
            yield from _walk(plan, (*so_far, bars), most)


def _within_own_bounds(section: Section, bars: int) -> bool:
    if section.bars not in (None, bars) or section.settled_bars not in (None, bars):
        return False
    low, high = section.at_least, section.at_most
    vamp = section.vamp.at_least if section.vamp else None
    if vamp is not None and _reaches(section, bars, vamp) < 0:
        return False
    if section.free is not None and seconds(section, bars) != section.free.about:
        return False
    return (low is None or _reaches(section, bars, low) >= 0) and (
        high is None or _reaches(section, bars, high) <= 0
    )


def _reaches(section: Section, bars: int, limit: Span) -> Fraction:
    return Fraction(bars - limit.count) if isinstance(limit, Bars) else seconds(section, bars) - limit.value


def is_allowed(plan: Plan, bars: tuple[int, ...]) -> bool:
    """Tell whether these bars meet every demand of the plan."""
    return is_allowed_alone(plan, bars) and all(_run_is_allowed(plan, run, bars) for run in plan.runs)


def is_allowed_alone(plan: Plan, bars: tuple[int, ...]) -> bool:
    """Tell whether these bars meet every demand but those on who is home."""
    lasts = all_seconds(plan, bars)
    if lasts > DAY or (plan.total and plan.total.within is not None and off(plan, bars) > plan.total.within):
        return False
    for section, count in zip(plan.sections, bars, strict=True):
        same, pays = section.same_length_as, section.pays_off
        if not _within_own_bounds(section, count) or (same is not None and bars[same] != count):
            return False
        if pays and pays.ratio is not None:
            built = sum(seconds(plan.sections[at], bars[at]) for at in pays.sections)
            if seconds(section, count) < pays.ratio * built:
                return False
    return True


def _run_is_allowed(plan: Plan, run: tuple[Section, ...], bars: tuple[int, ...]) -> bool:
    entries = plan.entries(run)
    starts: dict[int, Length] = {}
    here = Length(0)
    for section in run:
        starts[section.index] = here
        end = here + section.meters.of_bars(bars[section.index])
        asked = [(entries[name][1], starts[entries[name][0].index]) for name in section.resolve]
        if not all(layer.is_home(end - entered) for layer, entered in asked):
            return False
        if section.meets_once and _meets_inside(asked, here, end):
            return False
        here = end
    return True


def _meets_inside(asked: list, here: Length, end: Length) -> bool:
    """Walk the homes of the first layer, strictly inside."""
    first, entered = asked[0]
    at = entered + first.start
    while at < end:
        if at > here and all(layer.is_home(at - since) for layer, since in asked):
            return True
        at += first.turn
    return False
