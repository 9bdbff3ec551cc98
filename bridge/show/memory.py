"""What a bridge that was killed must know to go on: where the show stood, and what was cued.

This file knows nothing about files; how a memory is written is the store's business.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256
from typing import Any

from bridge.errors import UsageError
from bridge.exact import Length
from bridge.song import Song

__all__ = ["Memory", "digest"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Memory:
    """A show at an instant."""

    at: float
    """Seconds on the steady clock; who writes it down adds the date: that clock ends with a process."""
    song: str
    """The digest of the song and its bars (:func:`digest`)."""
    section: int
    into: float
    """Quarters from the section's start, where it stood at ``at``."""
    playing: bool
    shift: Length
    """How far the show stands beyond the place that the host shows."""
    looping: bool = False
    """The host was made to loop, and has not been told to stop."""
    held: bool = False
    leaves: Length | None = None
    """Where the section will be left, from its start, where that is not its planned end."""
    follows: int | None = None
    """The section that comes after it, where that is not the next one."""
    went: int = 0
    """How many passes through sections have begun."""
    sent: tuple[str, ...] = ()
    """The keys of the cues that went out in this pass."""
    played: tuple[tuple[str, int], ...] = ()
    """The sections that were played, each with its bars."""

    def as_record(self) -> dict[str, Any]:
        """Return it as JSON can hold it."""
        return {
            "at": self.at,
            "song": self.song,
            "section": self.section,
            "into": self.into,
            "playing": self.playing,
            "shift": str(self.shift.whole_notes),
            "looping": self.looping,
            "held": self.held,
            "leaves": None if self.leaves is None else str(self.leaves.whole_notes),
            "follows": self.follows,
            "went": self.went,
            "sent": list(self.sent),
            "played": [list(one) for one in self.played],
        }

    @classmethod
    def of_record(cls, record: Mapping[str, Any]) -> Memory:
        """Read what :meth:`as_record` wrote; UsageError for anything else."""
        try:
            leaves = record["leaves"]
            return cls(
                at=float(record["at"]),
                song=str(record["song"]),
                section=int(record["section"]),
                into=float(record["into"]),
                playing=bool(record["playing"]),
                shift=Length(Fraction(record["shift"])),
                looping=bool(record["looping"]),
                held=bool(record["held"]),
                leaves=None if leaves is None else Length(Fraction(leaves)),
                follows=None if record["follows"] is None else int(record["follows"]),
                went=int(record["went"]),
                sent=tuple(str(key) for key in record["sent"]),
                played=tuple((str(name), int(bars)) for name, bars in record["played"]),
            )
        except (KeyError, TypeError, ValueError, ZeroDivisionError) as error:
            raise UsageError(f"this is no memory of a show: {error!r}") from None


def digest(song: Song) -> str:
    """Return a short word that two songs share only with the same title, sections and bars."""
    parts = [
        song.plan.title,
        *(f"{placed.name}={placed.bars}@{placed.section.tempo}" for placed in song.sections),
    ]
    return sha256("\0".join(parts).encode()).hexdigest()[:16]
