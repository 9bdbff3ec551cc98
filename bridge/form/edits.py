"""Changes to a plan, as small values: each says itself, applies itself, and is legal when applied.

Who must be home follows who sounds wherever the plan left it to the default.  This file
knows nothing about readings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.cycles import Kind
from bridge.errors import MusicError
from bridge.exact import Bars, Length
from bridge.form.words import energy, listed
from bridge.plan.model import Plan, Section, Stay, default_resolve

__all__ = ["Bar", "Cycle", "Edit", "Energy", "Enters", "Resolve", "Sounding", "applied", "with_wish"]

Record = Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Energy:
    """A section's energy: other points."""

    section: int
    points: tuple[Fraction, ...]

    def apply(self, plan: Plan) -> Plan:
        """Return the plan with these points."""
        return _with(plan, replace(plan.sections[self.section], energy=self.points))

    def says(self, plan: Plan) -> str:
        """Say the change in words."""
        old = plan.sections[self.section]
        instead = f" instead of {energy(old.energy)}" if old.energy else ""
        return f"{old.name}: energy {energy(self.points)}{instead}"

    def record(self, plan: Plan) -> Record:
        """Return the change for a program."""
        return _record(plan.sections[self.section], "energy", energy(self.points))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A section's length: exactly so many bars, instead of what it wished."""

    section: int
    bars: int
    before: int
    """The bars that it has without the change, for the words."""

    def apply(self, plan: Plan) -> Plan:
        """Return the plan with the length fixed; MusicError where it has been recorded."""
        old = _unsettled(plan, self.section)
        freed = replace(old, about=None, at_least=None, at_most=None, same_length_as=None)
        return _with(plan, replace(freed, bars=self.bars))

    def says(self, plan: Plan) -> str:
        """Say the change in words."""
        return f"{plan.sections[self.section].name}: {Bars(self.bars)} instead of {self.before}"

    def record(self, plan: Plan) -> Record:
        """Return the change for a program."""
        old = plan.sections[self.section]
        of_vamp = old.vamp is not None and old.about == old.vamp.at_least
        gone = ["length"] if ((old.about and not of_vamp) or old.at_least or old.at_most) else []
        gone += ["same_length_as"] if old.same_length_as is not None else []
        return {**_record(old, "bars", str(self.bars)), "instead_of": gone}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounding:
    """Who sounds in a section."""

    section: int
    layers: tuple[str, ...]

    def apply(self, plan: Plan) -> Plan:
        """Return the plan with these layers; MusicError where it cannot be.

        Where layers are other in the section than in the song, enter or leave within it, or
        lead into the run with a pickup, who sounds is too finely written to be changed here.
        """
        old = _unsettled(plan, self.section)
        _refuse_finely_written(plan, old)
        names = tuple(name for name in plan.layers if name in self.layers)
        changed = _with(plan, replace(old, layers=names))
        return _resolving_anew(plan, changed)

    def says(self, plan: Plan) -> str:
        """Say the change in words."""
        old = plan.sections[self.section]
        comes = [name for name in self.layers if name not in old.layers]
        goes = [name for name in old.layers if name not in self.layers]
        parts = [f"add {listed(comes)}"] if comes else []
        parts += [f"leave out {listed(goes)}"] if goes else []
        if len(goes) > 1 and not comes:
            parts = [f"only {listed(self.layers)}"]
        return f"{old.name}: {', '.join(parts)}"

    def record(self, plan: Plan) -> Record:
        """Return the change for a program."""
        return _record(plan.sections[self.section], "layers", list(self.layers))


@dataclass(frozen=True, slots=True, kw_only=True)
class Enters:
    """A layer more in a section, entering at a barline within it."""

    section: int
    layer: str
    bar: int
    """The bar of the section at which it enters, 2 or more."""

    def apply(self, plan: Plan) -> Plan:
        """Return the plan with the entry; MusicError where it cannot be."""
        old = _unsettled(plan, self.section)
        sounding = Sounding(section=self.section, layers=(*old.layers, self.layer)).apply(plan)
        stay = Stay(enters=old.meters.of_bars(self.bar - 1))
        section = replace(sounding.sections[self.section], stays={self.layer: stay})
        return _resolving_anew(sounding, _with(sounding, section))

    def says(self, plan: Plan) -> str:
        """Say the change in words."""
        return f"{plan.sections[self.section].name}: let {self.layer} enter at its bar {self.bar}"

    def record(self, plan: Plan) -> Record:
        """Return the change for a program."""
        old = plan.sections[self.section]
        entering = {self.layer: {"enters": f"bar {self.bar}"}}
        names = [name for name in plan.layers if name in (*old.layers, self.layer)]
        return _record(old, "layers", [entering if name == self.layer else name for name in names])


@dataclass(frozen=True, slots=True, kw_only=True)
class Resolve:
    """Who must be home at a section's end."""

    section: int
    layers: tuple[str, ...]

    def apply(self, plan: Plan) -> Plan:
        """Return the plan with the demand; MusicError where the section has been recorded."""
        return _with(plan, replace(_unsettled(plan, self.section), resolve=self.layers))

    def says(self, plan: Plan) -> str:
        """Say the change in words."""
        old = plan.sections[self.section]
        more = [name for name in self.layers if name not in old.resolve]
        return f"{old.name}: resolve {listed(more)} at its end, too"

    def record(self, plan: Plan) -> Record:
        """Return the change for a program."""
        return _record(plan.sections[self.section], "resolve", list(self.layers))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """A layer's cycle, in the whole song."""

    layer: str
    cycle: Length

    def apply(self, plan: Plan) -> Plan:
        """Return the plan with the cycle; MusicError for a layer that is not given by one."""
        old = plan.layers[self.layer]
        if old.kind is not Kind.CYCLE:
            raise MusicError(f"{self.layer!r} has no cycle to change")
        return replace(plan, layers={**plan.layers, self.layer: replace(old, cycle=self.cycle)})

    def says(self, plan: Plan) -> str:
        """Say the change in words."""
        return (
            f"{self.layer}: cycle {self.cycle} instead of {plan.layers[self.layer].cycle}, in the whole song"
        )

    def record(self, plan: Plan) -> Record:  # noqa: ARG002  one shape for all edits
        """Return the change for a program."""
        return {"layer": self.layer, "key": "cycle", "value": _cycle(self.cycle)}


Edit = Energy | Bar | Sounding | Enters | Resolve | Cycle


def applied(plan: Plan, edits: Iterable[Edit]) -> Plan:
    """Return the plan with all ``edits`` made; MusicError or PlanError where they cannot be."""
    for edit in edits:
        plan = edit.apply(plan)
    return plan


def with_wish(plan: Plan, index: int, **wish: object) -> Plan:
    """Return the plan with a section's length free but for ``about``, ``at_least`` and ``at_most``."""
    old = _unsettled(plan, index)
    free = {"bars": None, "about": None, "at_least": None, "at_most": None, "same_length_as": None}
    return _with(plan, replace(old, **{**free, **wish}))  # type: ignore[arg-type]


def _with(plan: Plan, section: Section) -> Plan:
    sections = tuple(section if old.index == section.index else old for old in plan.sections)
    return replace(plan, sections=sections)


def _unsettled(plan: Plan, index: int) -> Section:
    section = plan.sections[index]
    if section.settled or section.settled_bars is not None:
        raise MusicError(f"{section.name!r} has been recorded")
    if section.free is not None:
        raise MusicError(f"{section.name!r} is a free passage: it has neither bars nor turns")
    return section


def _refuse_finely_written(plan: Plan, section: Section) -> None:
    run = next(run for run in plan.runs if section in run)
    if section.changed or section.stays or section.tighten or any(one.pickup for one in run):
        raise MusicError(f"who sounds in {section.name!r} is written in detail")


def _resolving_anew(before: Plan, after: Plan) -> Plan:
    """Follow a change of who sounds with who resolves; what was named stays, as far as it sounds."""
    defaults, now = _defaults(before), _defaults(after)
    sections = []
    for section, usual, new in zip(after.sections, defaults, now, strict=True):
        sounded = new.sounded
        kept = tuple(name for name in section.resolve if name in sounded)
        resolve = new.resolve if section.resolve == usual.resolve else kept
        if section.meets_once and len(resolve) < 2:
            raise MusicError(f"{section.name!r} could not meet once any more")
        sections.append(replace(section, resolve=resolve))
    changed = replace(after, sections=tuple(sections))
    for run in changed.runs:
        changed.entries(run)
    return changed


@dataclass(frozen=True, slots=True, kw_only=True)
class _Usual:
    sounded: tuple[str, ...]
    resolve: tuple[str, ...]


def _defaults(plan: Plan) -> list[_Usual]:
    found = []
    for run in plan.runs:
        for section, counting in zip(run, plan.counting(run), strict=True):
            sounded = tuple(name for name in plan.layers if name in counting)
            resolve = default_resolve(
                section.layers, sounded=sounded, runs_on=section.runs_on, stays=section.stays
            )
            found.append(_Usual(sounded=sounded, resolve=resolve))
    return found


def _record(section: Section, key: str, value: str | Sequence[object]) -> Record:
    return {"section": section.name, "key": key, "value": value}


def _cycle(cycle: Length) -> str:
    value = cycle.whole_notes
    return f"{value.numerator}/{value.denominator}"
