"""The plan as a problem in whole numbers, with the demands that are to hold.

Bounds are drawn in first: what a section's own demands, its twins, its payoffs and the
total leave of its ladder.  Sections that share a run, a number of bars or a payoff
form a block; blocks touch one another only through the total.  This file knows
nothing about how the best choice is found.
"""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor, lcm

from bridge.plan.model import Plan, Section
from bridge.shape.bounds import draw_in, meet_twins, own_bounds
from bridge.shape.demands import DAY, Key, Kind
from bridge.shape.passage import TENTHS, in_tenths
from bridge.shape.phases import Held, Part, read_run
from bridge.shape.piece import Piece, Scale, fineness, seconds_unit
from bridge.shape.terms import Answer, Goal

__all__ = ["Poser", "Problem", "pose", "within"]

_OF_RUNS = (Kind.RESOLVE, Kind.MEETS, Kind.TIGHTEN)
"""The demands that sections of a run share a count of time for."""
_OF_PIECES = (*_OF_RUNS, Kind.FREE)
"""All demands that a section's own numbers depend on, whatever its bounds."""
_FOREVER = 1000 * DAY
"""Seconds: a horizon for asking what would hold if a song could last longer than a day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Pieces in song order, what ties them, and the goal."""

    pieces: tuple[Piece, ...]
    twins: tuple[int, ...]
    """For each piece the first one that has as many bars: itself where it is free."""
    answers: tuple[Answer, ...]
    goal: Goal
    has_total: bool
    scale: Scale
    blocks: tuple[tuple[int, ...], ...]

    @property
    def is_empty(self) -> bool:
        """Whether some section has no length left at all."""
        return any(piece.ladder.is_empty for piece in self.pieces)


def pose(plan: Plan, demands: Iterable[Key]) -> Problem:
    """Return the problem of ``plan`` under ``demands`` only; wishes always count."""
    return Poser(plan).pose(demands)


class Poser:
    """Poses one plan's problem under different demands, and remembers what they share."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._scale = _scale(plan)
        self._runs = plan.runs
        self._pieces: dict[tuple[int, frozenset[Key]], list[Piece]] = {}

    def pose(self, demands: Iterable[Key]) -> Problem:
        """Return the problem under ``demands`` only."""
        held = frozenset(demands)
        pieces = [copy(piece) for run in self._runs for piece in self._of_run(run, held)]
        goal = _goal(self._plan, held, self._scale)
        twins = _twins(self._plan, held)
        answers = tuple(_answers(self._plan, held))
        for piece in pieces:
            piece.ladder = own_bounds(piece, held, self._scale, goal.high)
        meet_twins(pieces, twins)
        draw_in(pieces, twins, answers, goal)
        return Problem(
            pieces=tuple(pieces),
            twins=twins,
            answers=answers,
            goal=goal,
            has_total=self._plan.total is not None,
            scale=self._scale,
            blocks=_blocks([piece.part for piece in pieces], twins, answers),
        )

    def _of_run(self, run: tuple[Section, ...], held: frozenset[Key]) -> list[Piece]:
        keys = [(kind, section.index) for section in run for kind in _OF_PIECES]
        asked = frozenset(key for key in keys if key in held)
        known = (run[0].index, asked)
        if known not in self._pieces:
            resolving, once, tightening = (
                frozenset(index for kind, index in asked if kind is wanted and index is not None)
                for wanted in _OF_RUNS
            )
            holding = Held(resolving=resolving, once=once, tightening=tightening)
            parts = read_run(self._plan, tuple(_as_held(section, asked) for section in run), holding)
            self._pieces[known] = [Piece(part, self._scale, part.ladder) for part in parts]
        return self._pieces[known]


def within(problem: Problem, goal: Goal) -> Problem:
    """Return the problem under narrower bounds on the total."""
    pieces = tuple(copy(piece) for piece in problem.pieces)
    draw_in(list(pieces), problem.twins, problem.answers, goal)
    return replace(problem, pieces=pieces, goal=goal)


def _as_held(section: Section, asked: frozenset[Key]) -> Section:
    is_loose = section.free is not None and (Kind.FREE, section.index) not in asked
    return in_tenths(section) if is_loose else section


def _scale(plan: Plan) -> Scale:
    units = [seconds_unit(section) for section in plan.sections]
    weights = [section.weight.denominator * fineness(section) for section in plan.sections]
    if any(section.free is not None for section in plan.sections):
        units.append(TENTHS)
    if plan.total is not None:
        units.append(plan.total.about.denominator)
        weights.append(plan.total.weight.denominator)
    return Scale(per_second=lcm(*units), per_weight=lcm(*weights))


def _goal(plan: Plan, held: frozenset[Key], scale: Scale) -> Goal:
    longest = DAY if (Kind.DAY, None) in held else _FOREVER
    low, high = Fraction(0), Fraction(longest)
    total = plan.total
    if total is not None and total.within is not None and (Kind.WITHIN, None) in held:
        low, high = total.about - total.within, min(high, total.about + total.within)
    return Goal(
        about=int(total.about * scale.per_second) if total else 0,
        weight=int(total.weight * scale.per_weight) if total else 0,
        low=max(0, ceil(low * scale.per_second)),
        high=floor(high * scale.per_second),
    )


def _twins(plan: Plan, held: frozenset[Key]) -> tuple[int, ...]:
    """Return for each section the first of those it is tied to, itself included."""
    links = [
        (section.index, section.same_length_as)
        for section in plan.sections
        if section.same_length_as is not None and (Kind.SAME_LENGTH, section.index) in held
    ]
    return _joined(len(plan.sections), links)


def _joined(count: int, links: Iterable[tuple[int, int]]) -> tuple[int, ...]:
    """Return for each of ``count`` things the least one that chains of ``links`` join it to."""
    least = list(range(count))

    def root(one: int) -> int:
        while least[one] != one:
            least[one] = least[least[one]]
            one = least[one]
        return one

    for one, other in links:
        low, high = sorted((root(one), root(other)))
        least[high] = low
    return tuple(root(one) for one in range(count))


def _answers(plan: Plan, held: frozenset[Key]) -> Iterable[Answer]:
    for section in plan.sections:
        pays_off = section.pays_off
        if pays_off is None or not pays_off.ratio or (Kind.PAYS_OFF, section.index) not in held:
            continue
        yield Answer(
            section=section.index,
            built=tuple(dict.fromkeys(pays_off.sections)),
            times=pays_off.ratio.denominator,
            share=pays_off.ratio.numerator,
        )


def _blocks(
    parts: list[Part], twins: tuple[int, ...], answers: tuple[Answer, ...]
) -> tuple[tuple[int, ...], ...]:
    links = [(at, at + 1) for at, part in enumerate(parts) if part.carries]
    links += list(enumerate(twins))
    links += [(answer.section, built) for answer in answers for built in answer.built]
    blocks: dict[int, list[int]] = {}
    for index, first in enumerate(_joined(len(parts), links)):
        blocks.setdefault(first, []).append(index)
    return tuple(tuple(block) for block in blocks.values())
