"""What was found for one line of a host map: the line, why, how sure, and what else fits.

'I can't tell' is a finding too: a reason in place of a line.  This file does not know how
anything is found.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bridge.hostmap import Heard

__all__ = ["Confidence", "Finding", "Missing"]


class Confidence(StrEnum):
    """How sure a finding is."""

    SURE = "sure"
    """Seen in at least two rounds that differ."""
    FAIR = "fair"
    """Nothing contradicts it, but it was seen once only, or in one way only."""


class Missing(StrEnum):
    """What another round would have to bring, where two explanations fit."""

    TEMPO = "tempo"
    METER = "meter"
    PLAY = "play"
    PLACE = "place"
    MARKER = "marker"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One key under ``hears``: ``heard`` is None where nobody can tell, and ``evidence`` says why."""

    key: str
    heard: Heard | None
    evidence: str
    confidence: Confidence | None = None
    rivals: tuple[str, ...] = ()
    """Other addresses or units that explain as much, or nearly."""
    missing: Missing | None = None
