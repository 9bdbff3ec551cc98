"""The plan's markers as one host is to have them: where, how exactly, and by which messages.

This file knows nothing about what stands in the host.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.errors import PlanError
from bridge.exact import Place
from bridge.hostmap import (
    CannotHoldError,
    Field,
    Filled,
    Handle,
    HostMap,
    MarkerHeard,
    Message,
    Number,
    Ruler,
    Said,
    Step,
    Unit,
    messages_of,
)
from bridge.hostmap.template import END, Fact

__all__ = ["FARTHEST", "SAMPLE", "Wanted", "fill_all", "reports", "want", "wanted_at"]

FARTHEST = Fraction(5, 10_000)
"""Seconds: no marker counts as in place farther off."""
SAMPLE = Fraction(1, 44_100)
"""Seconds: many hosts keep places on whole samples whatever type they report them in, so
one sample at the lowest common rate (common practice, no source) always counts as in place."""
_BAR_FIELDS = ("bar", "beat")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A marker of the plan in the host's terms.

    ``at``, ``step`` (how finely it can be sent, at least a sample) and ``cap`` (half a millisecond) are in
    the unit in which the host reports markers, and zero where it reports none.
    """

    index: int
    name: str
    at: Fraction
    step: Fraction
    cap: Fraction
    place: Place
    steps: tuple[Step, ...]
    """What places it; empty when it cannot be sent."""
    refusal: str | None = None
    """Why it cannot be sent, for its type cannot hold its place."""

    @property
    def messages(self) -> tuple[Message, ...]:
        """What places it, without the waits."""
        return messages_of(self.steps)

    def stands_at(self, at: Number) -> bool:
        """Whether a reported place is the one wanted."""
        return abs(at.value - self.at) <= min(self.cap, max(self.step, at.step))

    def is_met_by(self, marker: MarkerHeard) -> bool:
        """Whether a reported marker is the one wanted."""
        return marker.name == self.name and self.stands_at(marker.at)


def reports(host: HostMap) -> bool:
    """Whether the host can be asked for its markers; else it is laid blind."""
    return "marker" in host.hears and "list" in host.says


def want(ruler: Ruler, host: HostMap, *, command: str = "lay") -> tuple[Wanted, ...]:
    """Return the plan's markers for ``host``; PlanError when its map cannot place any."""
    host.need("says.place", command=command)
    place = host.says["place"]
    if not any(_tells_place(field) for said in place for field in said.fields):
        raise PlanError(
            f"'says.place' of the host map {host.name!r} names no place, so nothing can be put anywhere",
            hint='Use a field such as "{seconds:f}" or "{quarters:f}" in it.',
            where=host.where,
        )
    unit = host.hears["marker"].unit if reports(host) else None
    return tuple(
        wanted_at(ruler, place, unit, name=marker.name, place=marker.place, index=marker.index)
        for marker in ruler.song.markers
    )


def fill_all(
    ruler: Ruler, said: Iterable[Said], *, name: str, place: Place, index: int, handle: Handle,
    raw: tuple[Unit, Fraction] | None = None, facts: Mapping[str, Fact] | None = None,
    end: Place | None = None,
) -> tuple[tuple[Step, ...], tuple[Filled, ...]]:  # fmt: skip
    """Fill in messages about one marker; CannotHoldError when a field has no value that fits.

    ``raw`` is the place as the host itself told it, sent back without a rounding; ``facts``
    are what fields hold that the song's place alone does not say; ``end`` is for fields
    about the end of a region or a ramp.
    """
    known: dict[str, Fact] = {"name": name, "index": index, "count": len(ruler.song.markers), **(facts or {})}
    if handle is not None:
        known["id"] = handle

    def fact(field: Field) -> Fact:
        if field.name in known:
            return known[field.name]
        if field.name == "id":
            raise CannotHoldError("the host tells no id of its markers, but a message needs one")
        if field.name == "old_name":
            raise CannotHoldError("'old_name' is about a marker that is renamed: this one is not")
        if raw is not None and field.unit == raw[0]:
            return raw[1]
        if end is not None and field.name.startswith(END):
            return ruler.fact(end, Field(field.name.removeprefix(END), field.type, field.rate))
        return ruler.fact(place, field)

    pairs = [one.step(fact) for one in said]
    return tuple(step for step, _ in pairs), tuple(one for _, filled in pairs for one in filled)


def with_handle(wanted: Wanted, ruler: Ruler, said: Iterable[Said], handle: int) -> Wanted:
    """Return ``wanted`` with messages that give the marker the id ``handle``."""
    steps, _ = fill_all(ruler, said, name=wanted.name, place=wanted.place, index=wanted.index, handle=handle)
    return replace(wanted, steps=steps)


def wanted_at(
    ruler: Ruler, said: tuple[Said, ...], unit: Unit | None, *, name: str, place: Place, index: int,
    facts: Mapping[str, Fact] | None = None, end: Place | None = None,
) -> Wanted:  # fmt: skip
    """Return what is wanted under ``name`` at ``place``, refused where a type cannot hold it."""
    refusal: str | None = None
    step = Fraction(0)
    steps: tuple[Step, ...] = ()
    try:
        steps, filled = fill_all(
            ruler, said, name=name, place=place, index=index, handle=0, facts=facts, end=end
        )
        off, step = _exactness(ruler, place, filled)
        if off > FARTHEST:
            steps = ()
            refusal = (
                f"the type in the host map cannot hold its place: it would be {float(off * 1000):.3g} ms off,"
                f" at most {float(FARTHEST * 1000)} ms are allowed"
            )
    except CannotHoldError as error:
        refusal = f"it cannot be sent: {error.message}"
    fewer, more = ruler.units_a_second(place, unit) if unit else (Fraction(0), Fraction(0))
    return Wanted(
        index=index,
        name=name,
        at=ruler.value(place, unit) if unit else Fraction(0),
        step=max(step, SAMPLE) * more,
        cap=FARTHEST * fewer,
        place=place,
        steps=steps,
        refusal=refusal,
    )


def _tells_place(field: Field) -> bool:
    return field.unit is not None or field.name == "bar"


def _exactness(ruler: Ruler, place: Place, filled: Iterable[Filled]) -> tuple[Fraction, Fraction]:
    """Return how far off, and how coarse, the filled-in places are at most, in seconds."""
    exact = ruler.count.seconds(place)
    worst, coarsest = Fraction(0), Fraction(0)
    at: dict[str, Number] = {}
    for one in filled:
        if one.number is None:
            continue
        if one.field.name in _BAR_FIELDS:
            at[one.field.name] = one.number
        elif (unit := one.field.unit) is not None:
            worst = max(worst, abs(ruler.seconds(one.number.value, unit) - exact))
            coarsest = max(coarsest, one.number.step / ruler.units_a_second(place, unit)[0])
    if "bar" in at:
        worst = max(worst, abs(_bar_seconds(ruler, at) - exact))
    return worst, coarsest


def _bar_seconds(ruler: Ruler, at: dict[str, Number]) -> Fraction:
    """Return the host's seconds at a bar and beat as sent; without a beat, at the barline."""
    bars = ruler.song.bars
    bar = bars.bar_at(bars.start_of(int(at["bar"].value) - ruler.song.plan.origin.bar + 1))
    into = (at["beat"].value - 1) if "beat" in at else Fraction(0)
    return ruler.count.seconds(Place(bar.start.whole_notes + bar.meter.beat.whole_notes * into))
