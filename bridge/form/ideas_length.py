"""Ideas for remedies by length: a section longer, shorter, or ending where parts are home.

Each length comes from the planner, so that it resolves.  Ideas only: each is tried
before it is told.  This file knows nothing about energy.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from bridge.form.desk import Desk
from bridge.form.edits import Bar, Edit, Resolve
from bridge.form.finding import Finding
from bridge.form.landings import landings

__all__ = ["away_less", "fewer_meetings", "home_at_the_change", "longer_payoff", "shorter", "sooner"]

Idea = tuple[Edit, ...]


def longer_payoff(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Give the payoff more bars, or a section of the build fewer."""
    (index,) = finding.sections
    link = desk.plan.sections[index].pays_off
    built = () if link is None else link.sections
    build = sum(map(desk.score.lasts, built), Fraction(0))
    yield from _bar(desk, index, at_least=build * finding.limit)
    allowed = desk.score.lasts(index) / finding.limit
    for other in sorted(built, key=desk.score.lasts, reverse=True):
        yield from _bar(desk, other, at_most=allowed - (build - desk.score.lasts(other)))


def shorter(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Give one section of the passage fewer bars, the longest first."""
    total = desk.score.passage(finding.sections).seconds
    for index in sorted(finding.sections, key=desk.score.lasts, reverse=True):
        most = finding.limit - (total - desk.score.lasts(index))
        yield from _bar(desk, index, at_most=most)
        yield from _bar(desk, index, at_most=most * Fraction(4, 5))


def sooner(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Bring the payoff nearer: give what lies between it and the low passage fewer bars."""
    score = desk.score
    names = {place.name: place.section.index for place in score.sections}
    payoff = names.get(str(finding.figures.get("payoff")))
    if payoff is None:
        return
    over = finding.found - finding.limit
    between = range(finding.sections[-1] + 1, payoff)
    yield from _fewer(desk, between, over)


def fewer_meetings(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Shorten a section of the run until the landing comes after few enough meetings."""
    for landing in landings(desk.score):
        if landing.section == finding.section:
            most = landing.apart * (finding.limit + 1)
            over = landing.apart * (landing.meetings + 1) - most
            yield from _fewer(desk, landing.run, over)


def away_less(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Make room for one instrument: give its passages more bars."""
    score = desk.score
    layers = {index: score.plan.sections[index].layers for index in score.sounding}
    alone = [index for index in score.sounding if len(score.instruments(layers[index])) == 1]
    for index in sorted(alone, key=score.lasts):
        yield from _bar(desk, index, at_least=score.lasts(index) + finding.limit - finding.found)


def home_at_the_change(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Ask those who would be cut to be home at the change, with other bars where it takes them."""
    index = finding.sections[0]
    section = desk.plan.sections[index]
    cut = finding.figures["layers"]
    names = set(section.resolve) | (set(cut) if isinstance(cut, list) else set())
    ask = Resolve(section=index, layers=tuple(name for name in desk.plan.layers if name in names))
    yield (ask,)
    bars = desk.nearest_bars(index, edits=(ask,))
    if bars is not None and bars != desk.bars[index]:
        yield ask, Bar(section=index, bars=bars, before=desk.bars[index])


def _fewer(desk: Desk, sections: Iterable[int], over: Fraction) -> Iterator[Idea]:
    for index in sorted(sections, key=desk.score.lasts, reverse=True):
        yield from _bar(desk, index, at_most=desk.score.lasts(index) - over)


def _bar(
    desk: Desk,
    index: int,
    *,
    at_least: Fraction | None = None,
    at_most: Fraction | None = None,
    edits: Sequence[Edit] = (),
) -> Iterator[Idea]:
    if at_most is not None and at_most <= 0:
        return
    bars = desk.nearest_bars(index, at_least=at_least, at_most=at_most, edits=edits)
    if bars is not None and bars != desk.bars[index]:
        yield *edits, Bar(section=index, bars=bars, before=desk.bars[index])
