"""The stages of one block, and the labels that stand for ways through it.

A label stands for all ways of filling the block's sections up to here that the rest of
the block cannot tell apart: equal counts since each entry that is still needed, equal
bars where a later section must have as many, equal sums of seconds where a payoff is
still open and, where asked for, equal seconds in all.  Of such ways only the one with
the least regret is kept: whatever completes one completes the others at the same price,
so nothing is lost by it.

This file knows nothing about the rest of the song.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from bridge.shape.numbers import Array, Exact
from bridge.shape.piece import Piece
from bridge.shape.problem import Problem
from bridge.shape.terms import Answer

__all__ = ["TIME", "Column", "Labels", "LeftOut", "Stage", "Trellis"]

Column: TypeAlias = tuple[str, int]
"""What a label remembers: ``phase`` of an entry, ``sum`` of a payoff, ``bars`` of a section."""

TIME: Column = ("time", 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One section of a block, and what its labels have to remember."""

    piece: Piece
    answers: tuple[int, ...]
    """The payoffs that it answers."""
    open_after: tuple[tuple[int, bool], ...]
    """The payoffs still open after it, and whether it is one of the built."""
    twin: int | None
    """The earlier section whose bars it takes."""
    remembers: tuple[int, ...]
    """The sections whose bars are still needed after it."""


class Trellis:
    """The stages of one block; :func:`walk` goes through them."""

    def __init__(self, problem: Problem, block: Sequence[int]) -> None:
        inside = set(block)
        self.answers: tuple[Answer, ...] = tuple(a for a in problem.answers if a.section in inside)
        self.stages = tuple(self._stage(problem, block, at) for at in range(len(block)))

    def _stage(self, problem: Problem, block: Sequence[int], at: int) -> Stage:
        index, later = block[at], block[at + 1 :]
        first = problem.twins[index]
        seen = {problem.twins[other] for other in block[: at + 1]}
        open_after = [
            (number, index in answer.built)
            for number, answer in enumerate(self.answers)
            if answer.section in later and any(built <= index for built in answer.built)
        ]
        return Stage(
            piece=problem.pieces[index],
            answers=tuple(number for number, answer in enumerate(self.answers) if answer.section == index),
            open_after=tuple(open_after),
            twin=None if first == index else first,
            remembers=tuple(sorted(seen & {problem.twins[other] for other in later})),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """Labels after one stage: what each remembers, its regret, where it came from."""

    columns: dict[Column, Array]
    regrets: Array
    parents: Array
    bars: Array
    edges: tuple[Array, Array, Array] | None = None
    """Of a walk that is not timed: every move, as label before, label after and added regret."""


class LeftOut:
    """The least regret of anything left out; None while nothing was."""

    def __init__(self) -> None:
        self.least: Exact | None = None

    def note(self, regret: Exact | None) -> None:
        """Take note that ways of ``regret`` or more were left out; None: none were."""
        if regret is not None:
            self.least = regret if self.least is None else min(self.least, regret)
