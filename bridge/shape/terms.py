"""What ties a song's sections together, in units: its total, and its payoffs.

This file knows nothing about plans or solving.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Answer", "Goal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """The song's total in units: the wish and its weight, and the hard bounds."""

    about: int
    weight: int
    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A payoff with a ratio: times·seconds(section) >= share·sum of seconds(built)."""

    section: int
    built: tuple[int, ...]
    times: int
    share: int
