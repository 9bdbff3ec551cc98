"""The plain CP-SAT model of a song: the second opinion of tests and benchmark.

One literal for each possible length of each section, exactly one of them true; bars,
seconds and cost are sums over the literals, phases in runs go through the modulo
constraint, all in whole numbers.  (A model of element constraints was measured too: it
is slower.)  It shares nothing with the planner but the exact types.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm
from types import ModuleType
from typing import Any

from bridge.cycles.layer import Layer
from bridge.exact import Length
from bridge.plan.model import Plan, Section
from tests.shape.enumeration import _wish, _within_own_bounds, seconds

__all__ = ["CpModel"]


class CpModel:
    """A plan as a CP-SAT model; sections are at most ``most`` bars long."""

    def __init__(self, plan: Plan, cp_model: ModuleType, most: int) -> None:
        self._cp = cp_model
        self._plan = plan
        self.model = cp_model.CpModel()
        choices = [self._choices(section, most) for section in plan.sections]
        self.units = _units(plan, choices)
        self._chosen = [[self.model.NewBoolVar("") for _ in bars] for bars in choices]
        for literals in self._chosen:
            self.model.AddExactlyOne(literals)
        self._choices_of = choices
        self._bars = [self._element(at, bars) for at, bars in enumerate(choices)]
        self._seconds, costs = [], []
        for at, (section, bars) in enumerate(zip(plan.sections, choices, strict=True)):
            self._seconds.append(self._element(at, [int(seconds(section, n) * self.units) for n in bars]))
            costs.append(self._element(at, [int(_wish(section, n) * self.units) for n in bars]))
        self._demands()
        for run in plan.runs:
            self._run(run)
        self.model.Minimize(sum(costs) + self._total())

    def solve(self, time_limit: float = 10) -> tuple[str, Fraction | None, Fraction | None]:
        """Return the status, the cost and the proven bound, in weighted seconds; one worker."""
        solver = self._cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = time_limit
        status = solver.StatusName(solver.Solve(self.model))
        if status not in ("OPTIMAL", "FEASIBLE"):
            return status, None, None
        return (
            status,
            Fraction(round(solver.ObjectiveValue()), self.units),
            Fraction(round(solver.BestObjectiveBound()), self.units),
        )

    def _choices(self, section: Section, most: int) -> list[int]:
        """List lengths within the section's own bounds; outside runs only those that resolve."""
        own = [n for n in range(1, most + 1) if _within_own_bounds(section, n)]
        run = next(run for run in self._plan.runs if section in run)
        if len(run) > 1:
            return own
        layers = [self._plan.layers[name].fixed(section.meters) for name in section.resolve]
        return [n for n in own if all(layer.is_home(section.meters.of_bars(n)) for layer in layers)]

    def _element(self, at: int, values: list[int]) -> Any:
        return sum(value * literal for value, literal in zip(values, self._chosen[at], strict=True))

    def _demands(self) -> None:
        for section in self._plan.sections:
            if section.same_length_as is not None:
                self.model.Add(self._bars[section.index] == self._bars[section.same_length_as])
            pays = section.pays_off
            if pays and pays.ratio is not None:
                built = sum(self._seconds[at] for at in pays.sections)
                ratio = pays.ratio
                self.model.Add(ratio.denominator * self._seconds[section.index] >= ratio.numerator * built)

    def _run(self, run: tuple[Section, ...]) -> None:
        if len(run) == 1:
            return
        entries = self._plan.entries(run)
        layers = [layer for _, layer in entries.values()]
        grains = lcm(
            *(x.whole_notes.denominator for layer in layers for x in (layer.turn, layer.start)),
            *(meter.length.whole_notes.denominator for section in run for meter in section.meters.row),
        )
        lengths = {s.index: self._grains(s, grains) for s in run}
        for at, section in enumerate(run):
            for name in section.resolve:
                entry, layer = entries[name]
                since = sum(lengths[s.index] for s in run[: at + 1] if s.index >= entry.index)
                self._home(layer, since, grains)

    def _grains(self, section: Section, grains: int) -> Any:
        bars = self._choices_of[section.index]
        return self._element(section.index, [_whole(section.meters.of_bars(n), grains) for n in bars])

    def _home(self, layer: Layer, since: Any, grains: int) -> None:
        start, turn = _whole(layer.start, grains), _whole(layer.turn, grains)
        after = self.model.NewIntVar(0, 10**7, "")
        self.model.Add(after == since - start)
        self.model.AddModuloEquality(0, after, turn)

    def _total(self) -> Any:
        total = self._plan.total
        if total is None:
            return 0
        about = int(total.about * self.units)
        off = self.model.NewIntVar(0, 10**15, "")
        song = sum(self._seconds)
        self.model.Add(off >= song - about)
        self.model.Add(off >= about - song)
        if total.within is not None:
            within = int(total.within * self.units)
            self.model.Add(song <= about + within)
            self.model.Add(song >= about - within)
        return int(total.weight) * off


def _units(plan: Plan, choices: list[list[int]]) -> int:
    values = [seconds(s, n) for s, bars in zip(plan.sections, choices, strict=True) for n in bars]
    values += [_wish(s, n) for s, bars in zip(plan.sections, choices, strict=True) for n in bars]
    if plan.total:
        values += [plan.total.about, plan.total.within or Fraction(0)]
    return lcm(*(value.denominator for value in values))


def _whole(length: Length, grains: int) -> int:
    return int(length.whole_notes * grains)
