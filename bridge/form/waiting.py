"""Readings on low passages and payoffs: what was promised, when it comes, whether it is worth it.

This file knows nothing about remedies.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, pairwise

from bridge.form.finding import Finding, Look
from bridge.form.rules import LONG_LOW_SECONDS, RULES, SIGN, WHOLE_SONG_SECONDS
from bridge.form.score import Passage, Score
from bridge.form.words import number, time
from bridge.plan.model import Section

__all__ = ["low_payoff", "no_sign", "payoff_out_of_reach", "short_payoff"]


def payoff_out_of_reach(score: Score, limit: Fraction) -> Look:
    """Measure from the end of each long low passage to the next payoff.

    A payoff is a section that says so, unless it is low itself, or one that reaches the
    upper quarter.  The low passage with which a song ends promises nothing.
    """
    name = "payoff out of reach"
    if score.seconds < WHOLE_SONG_SECONDS:
        return Look(name=name)
    findings, unjudged = [], set(score.unknown)
    for passage in score.low_passages:
        if passage.seconds < LONG_LOW_SECONDS or score.is_ending(passage):
            continue
        payoff = _next_payoff(score, passage)
        wait = None if payoff is None else score.starts[payoff] - passage.end
        if wait is not None and wait <= limit:
            continue
        between = score.starts if payoff is None else score.starts[:payoff]
        if any(passage.sections[-1] < index < len(between) for index in score.unknown):
            continue
        findings.append(_out_of_reach(score, passage, payoff, wait, limit))
    return Look(name=name, findings=tuple(findings), unjudged=tuple(sorted(unjudged)))


def no_sign(score: Score, limit: Fraction) -> Look:
    """Look for a hint of what is coming in each low passage; the song's end needs none."""
    findings = []
    for passage in score.low_passages:
        if passage.seconds <= limit or score.is_ending(passage) or _has_sign(score, passage):
            continue
        if _beside(score, passage) & set(score.unknown):
            continue
        says = (
            f"{score.names(passage.sections)} {'is' if len(passage.sections) == 1 else 'are'} low for "
            f"{time(passage.seconds)}, and no part enters, nothing tightens or rises;"
            f" {time(limit)} can be simply quiet"
        )
        findings.append(
            Finding(
                rule=RULES["no sign"],
                section=passage.sections[0],
                sections=passage.sections,
                found=passage.seconds,
                limit=limit,
                says=says,
                key="energy",
            )
        )
    return Look(name="no sign", findings=tuple(findings), unjudged=score.unknown)


def short_payoff(score: Score, limit: Fraction) -> Look:
    """Compare each payoff with the sum of the sections that build up to it."""
    findings = []
    for section in score.plan.sections:
        if section.pays_off is None:
            continue
        built = section.pays_off.sections
        build, payoff = sum(map(score.lasts, built), Fraction(0)), score.lasts(section.index)
        if payoff >= build * limit:
            continue
        times = payoff / build
        says = (
            f"{section.name} lasts {time(payoff)} after {time(build)} of {score.names(built)}: "
            f"{number(times)} times as long; about the same begins at {number(limit)}"
        )
        findings.append(
            Finding(
                rule=RULES["short payoff"],
                section=section.index,
                sections=(section.index,),
                found=times,
                limit=limit,
                says=says,
                figures={"payoff_seconds": payoff, "build_seconds": build},
                key="bars" if "bars" in section.marks else "length",
            )
        )
    return Look(name="short payoff", findings=tuple(findings))


def low_payoff(score: Score, limit: Fraction) -> Look:
    """Compare each payoff's highest point with everything since the payoff before."""
    findings: list[Finding] = []
    unjudged: set[int] = set()
    since = 0
    for section in score.plan.sections:
        if section.pays_off is None:
            continue
        before = [index for index in range(since, section.index) if index not in score.silent]
        since = section.index + 1
        known = [index for index in before if score.energy(index)]
        if not section.energy or section.index in score.silent:
            unjudged |= {section.index} & set(score.unknown)
            continue
        unjudged |= set(before) - set(known)
        if known:
            findings += _low(score, section, known, limit)
    return Look(name="low payoff", findings=tuple(findings), unjudged=tuple(sorted(unjudged)))


def _next_payoff(score: Score, passage: Passage) -> int | None:
    for section in score.plan.sections[passage.sections[-1] + 1 :]:
        says_so = section.pays_off is not None and not score.is_low(section.index)
        if says_so or score.is_high(section.index):
            return section.index
    return None


def _out_of_reach(
    score: Score, passage: Passage, payoff: int | None, wait: Fraction | None, limit: Fraction
) -> Finding:
    low = f"{score.names(passage.sections)}, {time(passage.seconds)} of low energy,"
    if payoff is None or wait is None:
        says = f"After {low} no payoff comes any more; within {time(limit)} it would still be heard as one"
    else:
        says = f"After {low} {score.name(payoff)} comes {time(wait)} later; {time(limit)} is within reach"
    return Finding(
        rule=RULES["payoff out of reach"],
        section=passage.sections[0],
        sections=passage.sections,
        found=score.seconds if wait is None else wait,
        limit=limit,
        says=says,
        figures={
            "low_seconds": passage.seconds,
            "payoff": None if payoff is None else score.name(payoff),
            "after_seconds": wait,
        },
        key="energy",
    )


def _beside(score: Score, passage: Passage) -> set[int]:
    """Return the sections that sound next before and next after a passage: it may go on in them."""
    before = [index for index in score.sounding if index < passage.sections[0]]
    after = [index for index in score.sounding if index > passage.sections[-1]]
    return {*before[-1:], *after[:1]}


def _has_sign(score: Score, passage: Passage) -> bool:
    row = [score.plan.sections[index] for index in passage.sections if index not in score.silent]
    spells = [spell for spell in score.spells if spell.section in passage.sections and spell.layers]
    enters = any(set(after.layers) - set(before.layers) for before, after in pairwise(spells))
    tightens = any(spell.tightens for spell in spells)
    told = any(passage.start <= at < passage.end for at in score.said)
    return (
        enters
        or tightens
        or told
        or any(map(_rises, row))
        or any(
            after.energy[0] - before.energy[-1] >= SIGN or _quickens(before, after)
            for before, after in pairwise(row)
        )
    )


def _quickens(before: Section, after: Section) -> bool:
    """Tell whether the tempo rises from one section to the next; a free passage has none."""
    return before.free is None and after.free is None and after.tempo.start > before.tempo.end


def _rises(section: Section) -> bool:
    climbs = (later - earlier for earlier, later in combinations(section.energy, 2))
    return section.tempo.end > section.tempo.start or any(climb >= SIGN for climb in climbs)


def _low(score: Score, section: Section, before: list[int], limit: Fraction) -> list[Finding]:
    highest = max(before, key=lambda index: max(score.energy(index)))
    peak, rival = max(section.energy), max(score.energy(highest))
    if peak - rival >= limit:
        return []
    says = (
        f"{section.name} reaches {number(peak)}, but {score.name(highest)} before it {number(rival)};"
        f" {number(limit)} points more than that are clearly higher"
    )
    return [
        Finding(
            rule=RULES["low payoff"],
            section=section.index,
            sections=(section.index,),
            found=peak - rival,
            limit=limit,
            says=says,
            figures={"payoff_energy": peak, "highest_since": rival, "highest_section": score.name(highest)},
            key="energy",
        )
    ]
