"""Readings on meetings: parts heard apart, landings earned, changes where nobody is cut.

Looked at in the runs that a payoff answers: there a landing is what the section is for.
This file knows nothing about energy or remedies.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from bridge.cycles import Layer
from bridge.exact import Length, Place
from bridge.form.finding import Finding, Look
from bridge.form.rules import RULES
from bridge.form.score import Score
from bridge.form.words import counted, listed, number, time
from bridge.song import Gathering, gathering

__all__ = ["Landing", "change_away_from_home", "landing_given_away", "landings", "never_apart"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Landing:
    """The end of a run that is paid off later, and what its parts did on the way."""

    run: tuple[int, ...]
    section: int
    """The first section of the run that is paid off."""
    layers: tuple[Layer, ...]
    """Those to be resolved at its end, two or more, their starts counted from the run's start."""
    length: Length
    meetings: int
    """Full meetings after all have entered and before the end."""
    apart: Fraction
    """Seconds from one full meeting to the next, on average, the landing being the last."""


def landings(score: Score) -> list[Landing]:
    """Return the landings of all runs that a later section pays off."""
    found = (_landing(score, run) for run in score.runs if score.built.intersection(run))
    return [landing for landing in found if landing is not None]


def never_apart(score: Score, limit: Fraction) -> Look:
    """Find builds whose parts meet again and again after a few seconds."""
    name, findings = "never apart", []
    for landing in landings(score):
        if not landing.meetings or landing.apart >= limit:
            continue
        says = (
            f"{_who(landing)} meet every {time(landing.apart)} on the way through"
            f" {score.names(landing.run)}; {time(limit)} is heard as apart"
        )
        findings.append(_finding(name, landing, found=landing.apart, limit=limit, says=says))
    return Look(name=name, findings=tuple(findings))


def landing_given_away(score: Score, limit: Fraction) -> Look:
    """Find builds whose landing has been heard too often before it comes.

    Where the parts are never apart there is no landing to give away: that is the other reading.
    """
    name, findings = "landing given away", []
    for landing in landings(score):
        found = Fraction(landing.meetings)
        if found <= limit or landing.apart < RULES["never apart"].short:
            continue
        says = (
            f"{_who(landing)} have met {counted(landing.meetings, 'time')} in {score.names(landing.run)}"
            f" before they land; up to {number(limit)} leave something to wait for"
        )
        findings.append(_finding(name, landing, found=found, limit=limit, says=says))
    return Look(name=name, findings=tuple(findings))


def change_away_from_home(score: Score, limit: Fraction) -> Look:
    """Find changes of meter or tempo at which parts are cut in the middle of a turn."""
    findings = []
    for before, after in pairwise(score.sections):
        one, other = before.section, after.section
        if one.free is not None or other.free is not None:
            continue
        turns = [
            what
            for what, changes in (
                ("meter", one.meters != other.meters),
                ("tempo", one.tempo.end != other.tempo.start),
            )
            if changes
        ]
        cut = [part.layer.name for part in before.parts if part.end == before.end and not part.is_home_at_end]
        if not turns or len(cut) <= limit:
            continue
        says = (
            f"The {' and '.join(turns)} {'changes' if len(turns) == 1 else 'change'} from {one.name} to"
            f" {other.name} while {listed(cut)} {'is' if len(cut) == 1 else 'are'} in the middle of a turn"
        )
        findings.append(
            Finding(
                rule=RULES["change away from home"],
                section=one.index,
                sections=(one.index, other.index),
                found=Fraction(len(cut)),
                limit=limit,
                says=says,
                figures={"layers": cut, "changes": turns},
                key="resolve",
            )
        )
    return Look(name="change away from home", findings=tuple(findings))


def _landing(score: Score, run: tuple[int, ...]) -> Landing | None:
    first, last = score.sections[run[0]], score.sections[run[-1]]
    parts = {part.layer.name: part for index in run for part in score.sections[index].parts}
    asked = [parts[name] for name in last.section.resolve]
    if len(asked) < 2 or any(part.tightened and part.end != last.end for part in asked):
        return None
    met = gathering([replace(part, start=part.entry, end=last.end) for part in asked])
    together = max((part.entry for part in asked), key=lambda place: place.whole_notes)
    count = 0 if met is None else _count(met, together, last.end)
    return Landing(
        run=run,
        section=next(index for index in run if index in score.built),
        layers=tuple(
            replace(part.layer, start=part.layer.start + (part.entry - first.start)) for part in asked
        ),
        length=last.end - first.start,
        meetings=count,
        apart=(score.song.seconds(last.end) - score.song.seconds(together)) / (count + 1),
    )


def _count(met: Gathering, after: Place, before: Place) -> int:
    """Count the meetings strictly between two places, without walking the row of them."""
    end = before if met.until is None else met.until
    next_one = met.first
    if next_one <= after:
        next_one += met.every * ((after - next_one) // met.every + 1)
    in_row = max(0, -((next_one - end) // met.every))
    return in_row + sum(after < place < before for place in met.then)


def _finding(name: str, landing: Landing, *, found: Fraction, limit: Fraction, says: str) -> Finding:
    return Finding(
        rule=RULES[name],
        section=landing.section,
        sections=landing.run,
        found=found,
        limit=limit,
        says=says,
        figures={
            "layers": [layer.name for layer in landing.layers],
            "meetings_before": landing.meetings,
            "apart_seconds": landing.apart,
        },
        key="layers",
    )


def _who(landing: Landing) -> str:
    return listed([layer.name for layer in landing.layers])
