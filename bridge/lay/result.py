"""What came of a laying.

``placed``, ``kept``, ``moved`` and ``renamed`` count the plan's markers that stand in the host or
were sent to it; ``verified`` and ``unverified`` count the same ones by whether the host
has confirmed them.  This file knows nothing about how it was found out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

__all__ = ["COUNTS", "Failure", "Result"]

COUNTS = ("placed", "kept", "moved", "removed", "renamed", "verified", "unverified")


@dataclass(frozen=True, slots=True)
class Failure:
    """A marker that is not as the plan wants it, and why."""

    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """The counts of the contract, and what failed."""

    placed: int = 0
    kept: int = 0
    moved: int = 0
    removed: int = 0
    renamed: int = 0
    verified: int = 0
    unverified: int = 0
    failed: tuple[Failure, ...] = field(default=())
    silent: bool = False
    """The host never answered, though its map says that it does."""

    def as_record(self) -> dict[str, Any]:
        """Return the JSON object of the contract."""
        counts = {name: getattr(self, name) for name in COUNTS}
        return {**counts, "failed": [{"name": one.name, "why": one.why} for one in self.failed]}
