"""Readings on repetition and novelty: new pairings, what returns, how long nothing changes.

This file knows nothing about payoffs or remedies.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations

from bridge.form.finding import Finding, Look
from bridge.form.rules import LONG_PIECE_SECONDS, RULES, STEP
from bridge.form.score import Score, Spell
from bridge.form.words import number, time
from bridge.plan.model import Section

__all__ = ["no_change", "nothing_new", "nothing_returns", "texture"]

_FEWEST = 4
"""Sections that sound: with fewer there is hardly room for a return."""


def nothing_new(score: Score, limit: Fraction) -> Look:
    """Count the sections in a row that bring no new layer and no new pairing of two."""
    findings = []
    for row in _stale_rows(score):
        if len(row) <= limit:
            continue
        says = (
            f"{score.names(tuple(row))}: {len(row)} sections in a row pair no parts that were not"
            f" heard together before; up to {number(limit)} rest the ear"
        )
        findings.append(
            Finding(
                rule=RULES["nothing new"],
                section=row[0],
                sections=tuple(row),
                found=Fraction(len(row)),
                limit=limit,
                says=says,
                figures={"new_in_each": {score.name(i): count for i, count in enumerate(score.new)}},
                key="layers",
            )
        )
    return Look(name="nothing new", findings=tuple(findings))


def nothing_returns(score: Score, limit: Fraction) -> Look:
    """Count the sections in which a combination comes back after it was away."""
    name = "nothing returns"
    if score.seconds < LONG_PIECE_SECONDS or len(score.sounding) < _FEWEST:
        return Look(name=name)
    returning = list(_returning(score))
    if len(returning) >= limit:
        return Look(name=name)
    count = len(returning) or "none"
    says = (
        f"Of {len(score.sounding)} sections {count} {'brings' if len(returning) < 2 else 'bring'} back"
        f" parts that were heard together before; {number(limit)} would give something to recognise"
    )
    one = Finding(
        rule=RULES[name],
        section=None,
        sections=(),
        found=Fraction(len(returning)),
        limit=limit,
        says=says,
        figures={"returning": [score.name(index) for index in returning]},
        key="layers",
    )
    return Look(name=name, findings=(one,))


def no_change(score: Score, limit: Fraction) -> Look:
    """Find the stretches in which nothing changes: no step at a section, nobody entering or leaving."""
    findings: dict[int, Finding] = {}
    unjudged: set[int] = set()
    for row in _unchanged_rows(score):
        seconds = row[-1].end - row[0].start
        sections = tuple(dict.fromkeys(spell.section for spell in row))
        doubtful = set(sections) & set(score.unknown) if len(sections) > 1 else set()
        if seconds <= limit:
            continue
        if doubtful:
            unjudged |= doubtful
            continue
        says = (
            f"In {score.names(sections)} nothing changes for {time(seconds)}:"
            f" the same players, meter, tempo; {time(limit)} holds attention"
        )
        one = Finding(
            rule=RULES["no change"],
            section=sections[0],
            sections=sections,
            found=seconds,
            limit=limit,
            says=says,
        )
        findings.setdefault(sections[0], one)
    return Look(name="no change", findings=tuple(findings.values()), unjudged=tuple(sorted(unjudged)))


def texture(section: Section) -> set[tuple[str, ...]]:
    """Return what a section is recognised by: its pairings, or the one layer that plays."""
    return set(combinations(section.layers, 2)) or {(name,) for name in section.layers}


def _stale_rows(score: Score) -> Iterator[list[int]]:
    """Yield rows of sections that bring nothing new; a general pause does not break a row."""
    row: list[int] = []
    for index in score.sounding:
        if score.new[index]:
            if row:
                yield row
            row = []
        else:
            row.append(index)
    if row:
        yield row


def _returning(score: Score) -> Iterator[int]:
    sections = [score.plan.sections[index] for index in score.sounding]
    heard: set[tuple[str, ...]] = set()
    last: set[tuple[str, ...]] = set()
    for section in sections:
        here = texture(section)
        if (here & heard) - last:
            yield section.index
        heard |= here
        last = here


def _unchanged_rows(score: Score) -> Iterator[list[Spell]]:
    row: list[Spell] = []
    for spell in score.spells:
        if row and _changes(score, row[-1], spell):
            yield row
            row = []
        row.append(spell)
    yield row


def _changes(score: Score, before: Spell, after: Spell) -> bool:
    """Tell whether something new is heard where one spell follows another."""
    one, other = score.plan.sections[before.section], score.plan.sections[after.section]
    if before.layers != after.layers or before.tightens != after.tightens:
        return True
    if one is other:
        return False
    stepped = one.energy and other.energy and abs(other.energy[0] - one.energy[-1]) >= STEP
    return bool(stepped or one.meters != other.meters or one.tempo.end != other.tempo.start)
