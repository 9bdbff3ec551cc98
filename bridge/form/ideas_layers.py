"""Ideas for remedies by who plays: a layer more, a layer less, another combination, another cycle.

Ideas only: each is tried before it is told.  This file knows nothing about energy or
lengths.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations, islice

from bridge.cycles import Layer, earned_cycles, period
from bridge.errors import PlanError
from bridge.exact import Length
from bridge.form.desk import Desk
from bridge.form.edits import Cycle, Edit, Enters, Sounding
from bridge.form.finding import Finding
from bridge.form.landings import Landing, landings
from bridge.form.rules import RULES, VOICES
from bridge.form.score import Score
from bridge.form.variety import texture

__all__ = [
    "bring_back",
    "earned_landing",
    "enter_before",
    "enter_within",
    "fewer_cycles",
    "leave_one_alone",
    "new_pairing",
    "other_cycle",
    "other_players",
    "rest_some",
    "unlike_layer",
]

Idea = tuple[Edit, ...]

_GRIDS = (Length("1/16"), Length("1/8"))
_CYCLES = 6
"""Cycles that are tried for one layer, those nearest to the old one first."""
_MOST_BARS = 1000
"""Bars of a section that are looked through for an entry."""
_AROUND = 16
"""Steps of a sixteenth, shorter and longer, among which another cycle is looked for."""
_MOST_MEETINGS = int(RULES["landing given away"].short)


def leave_one_alone(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let one instrument play a section by itself: first and quiet ones before payoffs."""
    score = desk.score
    missing = finding.limit - finding.found
    layers = {index: score.plan.sections[index].layers for index in score.sounding}
    several = [index for index in score.sounding if len(score.instruments(layers[index])) > 1]
    for index in sorted(
        several, key=lambda index: (score.lasts(index) < missing, *_importance(score, index))
    ):
        names = score.plan.sections[index].layers
        for player in dict.fromkeys(map(score.instrument, names)):
            own = tuple(name for name in names if score.instrument(name) == player)
            yield (Sounding(section=index, layers=own),)


def rest_some(desk: Desk, _: Finding) -> Iterator[Idea]:
    """Let one layer rest in one section, or in as many as it takes, payoffs last."""
    score = desk.score
    tutti = [i for i in score.sounding if set(score.plan.sections[i].layers) == score.used]
    order = sorted(tutti, key=lambda index: _importance(score, index))
    for count in range(1, len(order) + 1):
        for name in reversed(score.plan.sections[order[0]].layers):
            yield tuple(_without(score, index, {name}) for index in order[:count])


def fewer_cycles(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Leave out as many cycles as are too many, in one section of the passage or in all of them."""
    score = desk.score
    order = sorted(finding.sections, key=score.lasts, reverse=True)
    for index in order:
        yield from ((edit,) for edit in _followable(score, index))
    each = [list(_followable(score, index)) for index in order]
    yield from (tuple(edits) for edits in zip(*each, strict=False))


def new_pairing(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Bring a pairing that was not heard before into the middle of the row, or into as many as it takes."""
    score, most = desk.score, int(finding.limit)
    row = [index for index in finding.sections if index not in score.silent]
    middle = [index for at, index in enumerate(row) if at <= most and len(row) - at - 1 <= most]
    for index in reversed(middle):
        yield from ((edit,) for edit in _fresh(score, index))
    if not middle:
        each = [list(_fresh(score, index)) for index in row[most :: most + 1]]
        yield from (tuple(edits) for edits in zip(*each, strict=False))


def bring_back(desk: Desk, _: Finding) -> Iterator[Idea]:
    """Let a late section be played by those of an earlier one."""
    score = desk.score
    for index in reversed(score.sounding[2:]):
        for other in score.sounding:
            names = score.plan.sections[other].layers
            if other < index - 1 and names != score.plan.sections[index].layers:
                yield (Sounding(section=index, layers=names),)
                both = set(names) | set(score.plan.sections[index].layers)
                yield (Sounding(section=index, layers=_in_order(score, both)),)


def other_players(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let a layer enter or leave at a barline within the stretch."""
    score = desk.score
    for index in finding.sections[1:] or ():
        yield from ((Sounding(section=index, layers=names),) for names in _neighbours(score, index) if names)


def enter_within(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let a layer enter within the longest section, at a barline from where it comes home, near the middle.

    Those first who sound next: they announce what is coming.
    """
    score = desk.score
    sounding = [index for index in finding.sections if index not in score.silent]
    for index in sorted(sounding, key=score.lasts, reverse=True):
        placed = score.sections[index]
        after = next((score.plan.sections[i].layers for i in score.sounding if i > index), ())
        away = [name for name in score.plan.layers if name not in placed.section.layers]
        for name in sorted(away, key=lambda name: name not in after):
            for bar in _barlines_home(desk, index, name)[:_CYCLES]:
                yield (Enters(section=index, layer=name, bar=bar),)


def enter_before(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let a layer of what follows enter already in the last section of the low passage."""
    score = desk.score
    inside = [index for index in finding.sections if index not in score.silent]
    after = [index for index in score.sounding if index > finding.sections[-1]]
    if len(inside) < 2 or not after:
        return
    here = score.plan.sections[inside[-1]].layers
    for name in score.plan.sections[after[0]].layers:
        if name not in here:
            yield (Sounding(section=inside[-1], layers=_in_order(score, {*here, name})),)


def unlike_layer(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Add a layer with an unlike cycle to the build, so that all meet less often."""
    for landing in _landing(desk, finding):
        sections = [index for index in landing.run if desk.plan.sections[index].layers]
        used = {name for index in sections for name in desk.plan.sections[index].layers}
        for name in desk.plan.layers:
            if name in used:
                continue
            for some in (sections[-1:], sections):
                yield tuple(_with(desk.score, index, name) for index in some)


def earned_landing(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Give one layer a cycle whose first full meeting with the others is the landing."""
    for landing in _landing(desk, finding):
        for layer in landing.layers:
            others = [other for other in landing.layers if other.name != layer.name]
            yield from ((Cycle(layer=layer.name, cycle=cycle),) for cycle in _earned(landing, layer, others))


def other_cycle(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Give one layer a cycle with which all meet seldom enough, wherever they then land."""
    for landing in _landing(desk, finding):
        wanted = landing.length / (_MOST_MEETINGS + 1)
        for layer in landing.layers:
            others = [other for other in landing.layers if other.name != layer.name]
            tried = (layer.cycle + _GRIDS[0] * steps for steps in range(-_AROUND, _AROUND + 1))
            rare = [
                cycle
                for cycle in tried
                if cycle > Length(0) and period([*others, Layer(name="for", cycle=cycle)]) >= wanted
            ]
            rare.sort(key=lambda cycle: abs(cycle - layer.cycle).whole_notes)
            yield from ((Cycle(layer=layer.name, cycle=cycle),) for cycle in rare[:_CYCLES])


def _landing(desk: Desk, finding: Finding) -> Iterator[Landing]:
    return (landing for landing in landings(desk.score) if landing.section == finding.section)


def _earned(landing: Landing, layer: Layer, others: list[Layer]) -> list[Length]:
    found: dict[Length, None] = {}
    for grid in _GRIDS:
        if landing.length % grid:
            continue
        cycles = earned_cycles(landing.length, others, grid=grid).cycles
        near = (cycle for cycle in cycles if layer.cycle <= cycle * 3 and cycle <= layer.cycle * 12)
        found.update(dict.fromkeys(near))
    ordered = sorted(found, key=lambda cycle: abs(cycle - layer.cycle).whole_notes)
    return list(islice(ordered, _CYCLES))


def _importance(score: Score, index: int) -> tuple[bool, bool, object, int]:
    """Order sections so that those come first that can do with fewer players."""
    section = score.plan.sections[index]
    known = max(section.energy) if section.energy else 50
    return section.pays_off is not None, index in score.built, known, index


def _followable(score: Score, index: int) -> Iterator[Sounding]:
    """Yield who could play a section so that its unlike cycles can be followed."""
    turns = {part.layer.name: part.layer.turn for part in score.sections[index].parts}
    for kept in combinations(dict.fromkeys(turns.values()), VOICES):
        names = tuple(name for name in score.plan.sections[index].layers if turns[name] in kept)
        yield Sounding(section=index, layers=names)


def _barlines_home(desk: Desk, index: int, name: str) -> list[int]:
    """Return the bars of a section from whose barline a layer comes home at its end, middle ones first."""
    placed = desk.score.sections[index]
    meters = placed.section.meters
    try:
        layer = desk.plan.layers[name].fixed(meters)
    except PlanError:
        return []
    bars = range(2, min(placed.bars, _MOST_BARS) + 1)
    home = [bar for bar in bars if layer.is_home(placed.length - meters.of_bars(bar - 1))]
    return sorted(home, key=lambda bar: abs(2 * bar - 2 - placed.bars))


def _fresh(score: Score, index: int) -> Iterator[Sounding]:
    """Yield who could play a section so that some were not heard together before it."""
    heard = {pair for other in score.plan.sections[:index] for pair in texture(other)}
    for names in _neighbours(score, index):
        if set(combinations(names, 2)) - heard:
            yield Sounding(section=index, layers=names)


def _neighbours(score: Score, index: int) -> Iterator[tuple[str, ...]]:
    """Yield who could play a section: a layer more; unless it is a payoff, one less, one for another."""
    here = set(score.plan.sections[index].layers)
    away = [name for name in score.plan.layers if name not in here]
    yield from (_in_order(score, here | {name}) for name in away)
    if score.plan.sections[index].pays_off is not None:
        return
    if len(here) > 1:
        yield from (_in_order(score, here - {name}) for name in sorted(here))
    yield from (_in_order(score, (here - {gone}) | {name}) for gone in sorted(here) for name in away)


def _with(score: Score, index: int, name: str) -> Sounding:
    return Sounding(section=index, layers=_in_order(score, {*score.plan.sections[index].layers, name}))


def _without(score: Score, index: int, names: set[str]) -> Sounding:
    return Sounding(section=index, layers=_in_order(score, set(score.plan.sections[index].layers) - names))


def _in_order(score: Score, names: Iterable[str]) -> tuple[str, ...]:
    wanted = set(names)
    return tuple(name for name in score.plan.layers if name in wanted)
