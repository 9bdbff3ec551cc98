"""What would help: for each demand of a conflict, the least by which it would have to give way.

The demand is turned into a wish that outweighs all others, and the plan is solved anew
with every other demand held.  Where even then nothing fits, because the plan has a
second conflict, only the demands of this one are held.  This file knows nothing about
how conflicts are found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.cycles.lengths import good_lengths
from bridge.exact import Bars, Seconds, Span, seconds_of, show_number, show_seconds
from bridge.plan.model import Plan, Section, Total
from bridge.shape.demands import DAY, Key, Kind, describe, hard_demands
from bridge.shape.effort import Effort
from bridge.shape.outcome import Relaxation
from bridge.shape.passage import in_tenths
from bridge.shape.problem import pose
from bridge.shape.search import search

__all__ = ["relaxations"]

_HEAVY = 10_000
"""How much more than all other wishes the demand that gives way weighs."""

_KEY_OF = {
    Kind.BARS: "bars",
    Kind.SETTLED: "settled_bars",
    Kind.AT_LEAST: "at_least",
    Kind.AT_MOST: "at_most",
}


def relaxations(plan: Plan, conflict: Sequence[Key], effort: Effort) -> tuple[Relaxation, ...]:
    """Return what would help, one entry at most for each demand of the conflict."""
    helper = _Helper(plan=plan, conflict=tuple(conflict), effort=effort, is_not_enough=[])
    found = []
    for key in conflict:
        helper.is_not_enough.clear()
        text = helper.help_with(key) if not effort.is_spent else None
        if text is not None:
            tail = "; elsewhere something else then still does not fit" if helper.is_not_enough else ""
            found.append(Relaxation(text=text + tail, demand=describe(plan, key)))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Helper:
    plan: Plan
    conflict: tuple[Key, ...]
    effort: Effort
    is_not_enough: list[Key]
    """Holds the demand being asked about once the rest of the plan was seen not to fit either."""

    def help_with(self, key: Key) -> str | None:
        """Say what would help if this one demand gave way; None where nothing was found."""
        kind, index = key
        if index is None:
            return self._total(key) if kind is Kind.WITHIN else self._day(key)
        ways = {
            Kind.PAYS_OFF: self._pays_off,
            Kind.FREE: self._free,
            Kind.SAME_LENGTH: self._same_length,
            Kind.RESOLVE: self._resolve,
            Kind.MEETS: self._without("where they may meet before its end"),
            Kind.TIGHTEN: self._without("where nobody tightens"),
            Kind.LAYERS: self._without("where nobody has to come or go within it"),
        }
        return ways.get(kind, self._length)(key, self.plan.sections[index])

    def _solved(self, plan: Plan, key: Key) -> tuple[int, ...] | None:
        """Solve ``plan`` without one demand."""
        part = self.effort.part(3)
        bars = None
        for held in (hard_demands(self.plan), self.conflict):
            result = search(pose(plan, [other for other in held if other != key]), part)
            bars = result.bars
            if bars is not None or not result.is_impossible:
                break
            self.is_not_enough.append(key)
        self.effort.take(part.taken + 1)
        return bars

    def _heavy(self) -> Fraction:
        weights = [section.weight for section in self.plan.sections]
        return _HEAVY * (sum(weights, Fraction(1)) + (self.plan.total.weight if self.plan.total else 0))

    def _with(self, section: Section, **changes: object) -> Plan:
        return self._with_section(replace(section, **changes))  # type: ignore[arg-type]

    def _with_section(self, section: Section) -> Plan:
        sections = list(self.plan.sections)
        sections[section.index] = section
        return replace(self.plan, sections=tuple(sections))

    def _length(self, key: Key, section: Section) -> str | None:
        limit = _limit(section, key[0])
        wishing = {"about": limit, "weight": self._heavy()}
        bars = self._solved(self._with(section, **wishing), key)
        if bars is None:
            return None
        found = [bars[section.index]]
        if key[0] in (Kind.BARS, Kind.SETTLED):
            found += self._other_side(key, section, found[0], dict(wishing))
        return f"{section.name} needs " + ", or ".join(_differs(section, limit, count) for count in found)

    def _free(self, key: Key, section: Section) -> str | None:
        """Let the passage last any number of tenths of a second, as near to its own as fits."""
        if section.free is None:
            return None
        wishing = replace(in_tenths(section), weight=self._heavy())
        plan = self._with_section(wishing)
        bars = self._solved(plan, key)
        if bars is None:
            return None
        lasts = Seconds(_lasts(plan, section.index, bars))
        return f"{section.name}, a free passage, fits with {lasts}, not {Seconds(section.free.about)}"

    def _other_side(self, key: Key, section: Section, found: int, wishing: Mapping[str, object]) -> list[int]:
        """Return the nearest number of bars on the other side of a fixed one, where there is one."""
        fixed = getattr(section, _KEY_OF[key[0]])
        side = {"at_least": Bars(fixed + 1)} if found < fixed else {"at_most": Bars(fixed - 1)}
        if fixed == 1 and found > fixed:
            return []
        kind = Kind(next(iter(side)))
        plan = self._with(section, **wishing, **side)
        part = self.effort.part(3)
        held = [*(other for other in hard_demands(self.plan) if other != key), (kind, section.index)]
        result = search(pose(plan, held), part)
        self.effort.take(part.taken + 1)
        return [] if result.bars is None else [result.bars[section.index]]

    def _total(self, key: Key) -> str | None:
        total = self.plan.total
        if total is None or total.within is None:
            return None
        wish = Total(about=total.about, weight=self._heavy(), marks=total.marks)
        bars = self._solved(replace(self.plan, total=wish), key)
        if bars is None:
            return None
        off = _song_seconds(self.plan, bars) - total.about
        beyond = _seconds(abs(off) - total.within)
        return f"the total needs {beyond} {'more' if off > 0 else 'less'}"

    def _day(self, key: Key) -> str | None:
        wish = Total(about=Fraction(DAY), weight=self._heavy())
        bars = self._solved(replace(self.plan, total=wish), key)
        if bars is None:
            return None
        return f"the song would last {show_seconds(_song_seconds(self.plan, bars))}: make it shorter"

    def _pays_off(self, key: Key, section: Section) -> str | None:
        """Least share·built - times·seconds, written as wishes for nothing and for a day."""
        pays_off = section.pays_off
        if pays_off is None or pays_off.ratio is None:
            return None
        sections = list(self.plan.sections)
        for index in pays_off.sections:
            nothing = {"about": Seconds(Fraction(0)), "weight": self._heavy() * pays_off.ratio}
            sections[index] = replace(sections[index], **nothing)  # type: ignore[arg-type]
        sections[section.index] = replace(section, about=Seconds(Fraction(DAY)), weight=self._heavy())
        bars = self._solved(replace(self.plan, sections=tuple(sections)), key)
        if bars is None:
            return None
        lasts = _lasts(self.plan, section.index, bars)
        built = sum((_lasts(self.plan, index, bars) for index in pays_off.sections), Fraction(0))
        names = _and(self.plan.sections[index].name for index in pays_off.sections)
        short = pays_off.ratio * built - lasts
        reached = show_number(Fraction(int(lasts / built * 1000), 1000))
        return (
            f"{section.name} stays {_seconds(short)} short of {show_number(pays_off.ratio)} times {names}:"
            f" a ratio of {reached} holds"
        )

    def _same_length(self, key: Key, section: Section) -> str | None:
        bars = self._solved(self.plan, key)
        if bars is None or section.same_length_as is None:
            return None
        other = self.plan.sections[section.same_length_as]
        lengths = f"{Bars(bars[section.index])} against {Bars(bars[other.index])}"
        return f"{section.name} and {other.name} of different lengths fit: {lengths}"

    def _resolve(self, key: Key, section: Section) -> str | None:
        """Leave single layers out, else all of them."""
        for name in section.resolve if len(section.resolve) > 1 else ():
            rest = tuple(other for other in section.resolve if other != name)
            part = self.effort.part(4)
            changed = self._with(section, resolve=rest, meets_once=False)
            fits = search(pose(changed, hard_demands(changed)), part, any_plan=True).bars
            self.effort.take(part.taken + 1)
            if fits is not None:
                return f"{section.name} can end with only {_and(rest)} home, not {name}{self._why(section)}"
        bars = self._solved(self.plan, key)
        if bars is None:
            return None
        fits_with = Bars(bars[section.index])
        return (
            f"{section.name} fits with {fits_with} where nobody has to be home at its end{self._why(section)}"
        )

    def _why(self, section: Section) -> str:
        """Say why those to be resolved are never home on a barline, where that is so."""
        run = next(run for run in self.plan.runs if section in run)
        counting = self.plan.counting(run)[section.index - run[0].index]
        entries = [counting[name] for name in section.resolve]
        entering = [entry.from_start for entry in entries if entry.section.index == section.index]
        why = good_lengths(section.meters, entering).why if entering else None
        return f" ({why})" if why else ""

    def _without(self, so: str) -> Callable[[Key, Section], str | None]:
        """Make what says which number of bars fits without the demand."""

        def fitting(key: Key, section: Section) -> str | None:
            bars = self._solved(self.plan, key)
            return None if bars is None else f"{section.name} fits with {Bars(bars[section.index])} {so}"

        return fitting


def _limit(section: Section, kind: Kind) -> Span:
    """Return the length that a demand on a section names."""
    if kind is Kind.VAMP and section.vamp is not None and section.vamp.at_least is not None:
        return section.vamp.at_least
    given: int | Span = getattr(section, _KEY_OF[kind])
    return Bars(given) if isinstance(given, int) else given


def _differs(section: Section, limit: Span, bars: int) -> str:
    if isinstance(limit, Bars):
        return f"{Bars(abs(bars - limit.count))} {'more' if bars > limit.count else 'fewer'} ({bars})"
    lasts = seconds_of(section.meters.of_bars(bars), section.tempo)
    more = "more" if lasts > limit.value else "less"
    return f"{_seconds(abs(lasts - limit.value))} {more} ({Bars(bars)}, {show_seconds(lasts)})"


def _lasts(plan: Plan, index: int, bars: Sequence[int]) -> Fraction:
    section = plan.sections[index]
    return seconds_of(section.meters.of_bars(bars[index]), section.tempo)


def _song_seconds(plan: Plan, bars: Sequence[int]) -> Fraction:
    return sum((_lasts(plan, index, bars) for index in range(len(bars))), Fraction(0))


def _seconds(seconds: Fraction) -> str:
    """Write an amount of time: ``25 s``, ``0.41 s``, or minutes from two on."""
    if seconds >= 120:
        return show_seconds(seconds)
    hundredths = -(-seconds * 100 // 1)
    return f"{show_number(Fraction(int(hundredths), 100))} s"


def _and(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last
