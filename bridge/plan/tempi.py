"""The tempo of each section out of what the plan says: beats, ramps, metric modulations.

This file knows nothing about seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from bridge.errors import PlanError, Where
from bridge.exact import Length, Tempo
from bridge.plan.model import Pivot
from bridge.plan.models import PlanFile, SectionEntry
from bridge.plan.tempo_entry import BeatTempo, PivotTempo, RampTempo, RangeTempo
from bridge.plan.tempo_range import TempoRange

__all__ = ["Given", "section_tempo", "song_tempo"]

_QUARTER = Length(Fraction(1, 4))


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A tempo in quarters, with the note it was given in and the modulation it came from."""

    tempo: Tempo
    beat: Length | None = None
    pivot: Pivot | None = None
    range: TempoRange | None = None
    """The tempi it stands for, where that is left open; it is the fastest of them."""


def song_tempo(file: PlanFile) -> Given:
    """Return the tempo that sections without their own fall back to.

    A ramp here is each such section's own ramp, anew: that is what falling back means.
    """
    if isinstance(file.tempo, PivotTempo):
        raise PlanError(
            "a metric modulation refers to the section before; the song's own tempo has none",
            hint="Write a number here, and 'tempo: {pivot: ..., becomes: ...}' in a section.",
            where=file.place_of("tempo"),
        )
    if isinstance(file.tempo, RangeTempo):
        return _ranged(file, file.tempo)
    return _given(file.tempo, file.place_of("tempo"))


def _ranged(file: PlanFile, tempo: RangeTempo) -> Given:
    low, high = tempo.between
    recorded = next((section for section in file.sections if section.settled), None)
    if recorded is not None:
        raise PlanError(
            f"{recorded.name.text!r} has been recorded, so the song has its tempo: it cannot be a range",
            hint="Write the tempo that was recorded; 'tempo' in PLAN.solved.json says which.",
            where=file.place_of("tempo"),
        )
    try:
        found = TempoRange(low=low, high=high)
    except PlanError as error:
        raise error.at(tempo.place_of("between")) from None
    return Given(tempo=Tempo.constant(found.grid[-1]), range=found)


def section_tempo(entry: SectionEntry, *, song: Given, before: Given | None) -> Given:
    """Return the section's tempo: its own, or the song's; ``before`` is that of the section before."""
    where = entry.place_of("tempo")
    if entry.tempo is None:
        return song
    if not isinstance(entry.tempo, PivotTempo):
        return _given(entry.tempo, where)
    if before is None:
        raise PlanError(
            "the first section has none before it that a metric modulation could refer to",
            hint="Write its tempo as a number.",
            where=where,
        )
    pivot = Pivot(old=entry.tempo.pivot, new=entry.tempo.becomes)
    try:
        return Given(tempo=before.tempo.pivot(pivot.old, pivot.new), pivot=pivot)
    except PlanError as error:
        raise error.at(where) from None


def _given(tempo: Fraction | BeatTempo | RampTempo, where: Where) -> Given:
    try:
        if isinstance(tempo, Fraction):
            return Given(tempo=Tempo.constant(tempo))
        beat = None if tempo.beat in (None, _QUARTER) else tempo.beat
        if isinstance(tempo, BeatTempo):
            return Given(tempo=Tempo.constant(tempo.bpm, beat=beat), beat=beat)
        return Given(tempo=Tempo.ramp(tempo.from_, tempo.to, beat=beat), beat=beat)
    except PlanError as error:
        raise error.at(where) from None
