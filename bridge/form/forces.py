"""Readings on who plays: passages for one instrument, tutti all the time, too much at once.

This file knows nothing about energy or remedies.
"""

from __future__ import annotations

from fractions import Fraction

from bridge.form.finding import Finding, Look
from bridge.form.rules import RULES, VOICES, WHOLE_SONG_SECONDS
from bridge.form.score import Score
from bridge.form.words import counted, number, time

__all__ = ["always_tutti", "nobody_alone", "too_busy", "unlike_cycles"]

_ENSEMBLE = 3
"""Layers: two who play together all the time are a duo, not a tutti."""


def nobody_alone(score: Score, limit: Fraction) -> Look:
    """Add up the passages in which one instrument plays; layers of one player are one instrument."""
    name = "nobody alone"
    alone = [spell for spell in score.spells if len(score.instruments(spell.layers)) == 1]
    found = sum((spell.seconds for spell in alone), Fraction(0))
    if score.seconds < WHOLE_SONG_SECONDS or found >= limit or not score.sounding:
        return Look(name=name)
    heard = f"One instrument is heard alone for {time(found)} in all" if alone else "No one is heard alone"
    says = f"{heard}; a song of {time(score.seconds)} has room for {time(limit)} of it"
    one = Finding(
        rule=RULES[name],
        section=None,
        sections=(),
        found=found,
        limit=limit,
        says=says,
        figures={"alone": [score.name(spell.section) for spell in alone]},
        key="layers",
    )
    return Look(name=name, findings=(one,))


def always_tutti(score: Score, limit: Fraction) -> Look:
    """Take the share of the sounding time in which every layer of the song sounds; three layers or more."""
    name = "always tutti"
    tutti = [spell for spell in score.spells if set(spell.layers) == score.used]
    sounds = sum((spell.seconds for spell in score.spells if spell.layers), Fraction(0))
    together = sum((spell.seconds for spell in tutti), Fraction(0))
    if score.seconds < WHOLE_SONG_SECONDS or len(score.used) < _ENSEMBLE or together <= sounds * limit:
        return Look(name=name)
    says = (
        f"All {len(score.used)} parts play for {number(100 * together / sounds)} % of the time"
        f"; up to {number(100 * limit)} % entries still count"
    )
    one = Finding(
        rule=RULES[name],
        section=None,
        sections=(),
        found=together / sounds,
        limit=limit,
        says=says,
        figures={"tutti_seconds": together, "tutti": [score.name(spell.section) for spell in tutti]},
        key="layers",
    )
    return Look(name=name, findings=(one,))


def too_busy(score: Score, limit: Fraction) -> Look:
    """Find the passages with more unlike cycles at once than can be followed."""
    busy = tuple(index for index in score.sounding if unlike_cycles(score, index) > VOICES)
    findings = []
    for row in score.rows(busy):
        passage = score.passage(row)
        if passage.seconds <= limit:
            continue
        most = max(unlike_cycles(score, index) for index in row)
        says = (
            f"{counted(most, 'unlike cycle')} at once in {score.names(row)}, for {time(passage.seconds)};"
            f" more than {VOICES} are a passing colour, for {time(limit)} at most"
        )
        findings.append(
            Finding(
                rule=RULES["too busy"],
                section=row[0],
                sections=row,
                found=passage.seconds,
                limit=limit,
                says=says,
                figures={"unlike_cycles": most},
                key="layers",
            )
        )
    return Look(name="too busy", findings=tuple(findings))


def unlike_cycles(score: Score, index: int) -> int:
    """Count the different lengths of a turn among those who sound in a section."""
    return len({part.layer.turn for part in score.sections[index].parts})
