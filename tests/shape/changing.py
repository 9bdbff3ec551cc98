"""Every allowed plan of songs whose layers change, come and go, and tighten: walked one by one.

Written from the rules alone, with homes walked turn by turn; it shares nothing with the
planner or with ``Plan.counting``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, product

from bridge.exact import Length
from bridge.plan.model import LayerPlan, Plan, Section
from tests.shape.enumeration import cost, is_allowed_alone

__all__ = ["allowed", "cheapest_cost"]


def cheapest_cost(plan: Plan, most: int):
    """Return the least cost of any allowed plan of up to ``most`` bars a section, or None."""
    return min((cost(plan, bars) for bars in allowed(plan, most)), default=None)


def allowed(plan: Plan, most: int) -> Iterator[tuple[int, ...]]:
    """Yield every choice of bars that meets all demands."""
    good = [
        [bars for bars in product(range(1, most + 1), repeat=len(run)) if _run_holds(plan, run, bars)]
        for run in plan.runs
    ]
    for parts in product(*good):
        bars = tuple(chain.from_iterable(parts))
        if is_allowed_alone(plan, bars):
            yield bars


@dataclass(frozen=True)
class _Counting:
    """A layer whose time counts: its first home since the run's start, its turn, how it was given."""

    first: Length
    turn: Length
    given: LayerPlan

    def is_home(self, place: Length) -> bool:
        at = self.first
        while at < place:
            at += self.turn
        return at == place


def _run_holds(plan: Plan, run: tuple[Section, ...], bars: tuple[int, ...]) -> bool:
    homes: dict[str, _Counting] = {}
    here = Length(0)
    for section, count in zip(run, bars, strict=True):
        end = here + section.meters.of_bars(count)
        if not _has_room(section, end - here):
            return False
        for name in section.layers:
            _enter(plan, section, name, homes, here)
        if not _ends_well(section, homes, here, end):
            return False
        here = end
    return True


def _has_room(section: Section, length: Length) -> bool:
    stays = section.stays.values()
    return all(
        (stay.enters is None or stay.enters < length) and (stay.leaves is None or stay.leaves <= length)
        for stay in stays
    )


def _enter(plan: Plan, section: Section, name: str, homes: dict[str, _Counting], here: Length) -> None:
    given = section.changed.get(name, plan.layers[name])
    late = section.stays[name].enters if name in section.stays else None
    if late is not None or name not in homes or homes[name].given != given:
        layer = given.fixed(section.meters)
        first = here + (late or Length(0)) + given.start
        homes[name] = _Counting(first, layer.cycle / layer.rate, given)


def _ends_well(section: Section, homes: dict[str, _Counting], here: Length, end: Length) -> bool:
    tight = section.tighten
    if any(not homes[name].is_home(end) for name in section.resolve if not tight or name != tight.layer):
        return False
    if tight is not None:
        if end < here + tight.found.length or not homes[tight.layer].is_home(end - tight.found.length):
            return False
        del homes[tight.layer]
    return not section.meets_once or not _meet([homes[name] for name in section.resolve], here, end)


def _meet(counting: list[_Counting], here: Length, end: Length) -> bool:
    """Walk the homes of the first, strictly inside."""
    at = counting[0].first
    while at < end:
        if at > here and all(other.is_home(at) for other in counting):
            return True
        at += counting[0].turn
    return False
