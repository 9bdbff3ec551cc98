"""What a reading found: the figures, the sections, and what would help.

Plain frozen values; this file knows nothing about how they are found or shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from bridge.errors import Where
from bridge.form.rules import Rule
from bridge.plan import Accept, Plan

__all__ = ["Finding", "Look", "Reading", "Remedy"]

Key = tuple[str, int | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing found in a song: by which rule, where, and how far beyond its limit."""

    rule: Rule
    section: int | None
    """Where it begins; None where it is about the whole song."""
    sections: tuple[int, ...]
    """All that it is about, in order; with none, the whole song."""
    found: Fraction
    """In the rule's unit."""
    limit: Fraction
    says: str
    """The figures in words: a sentence without its full stop."""
    figures: Mapping[str, object] = field(default_factory=dict)
    """Further figures by name: exact numbers, names, lists."""
    key: str = "name"
    """The key of the plan file that it hangs on."""

    @property
    def identity(self) -> Key:
        """What makes it the same finding in a changed plan: its reading and its section."""
        return self.rule.name, self.section


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What one look at a song came to: findings, and the sections that it could not judge."""

    name: str
    """The reading."""
    findings: tuple[Finding, ...] = ()
    unjudged: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A change that clears a finding and adds none, checked by solving the changed plan."""

    says: str
    change: tuple[Mapping[str, object], ...]
    """The same for a program: ``section`` or ``layer``, ``key``, and the ``value`` as a plan file has it."""
    plan: Plan
    """The plan with the change made."""
    bars: tuple[int, ...]
    """Its sections' bars, solved anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A finding as it is told: with the writer's acceptance, or with a remedy where one was found."""

    finding: Finding
    where: Where | None
    accepted: Accept | None = None
    remedy: Remedy | None = None
    searched: bool = True
    """Whether a remedy was looked for as far as there are ideas; False where the budget ended first."""
