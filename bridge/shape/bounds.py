"""The bars a section may have at all: its own demands, its twins, its payoffs, the total.

Bounds are drawn in until nothing moves: what is cut off can be part of no plan.  This
file knows nothing about costs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import ceil, floor

from bridge.exact import Bars, Span
from bridge.plan.model import Section
from bridge.shape.demands import Key, Kind
from bridge.shape.ladder import Ladder
from bridge.shape.phases import Part, first_meeting
from bridge.shape.piece import Piece, Scale
from bridge.shape.terms import Answer, Goal

__all__ = ["draw_in", "meet_twins", "own_bounds"]

_ROUNDS = 50
"""Drawing bounds in may go on for ever in ever smaller steps; stopping early is only weaker."""


def own_bounds(piece: Piece, held: frozenset[Key], scale: Scale, longest: int) -> Ladder:
    """Return the ladder of one section under its own demands, and no longer than ``longest`` units."""
    section, ladder = piece.section, piece.ladder
    for kind, fixed in _fixed(section).items():
        if fixed is not None and (kind, section.index) in held:
            ladder = ladder.at_least(fixed).at_most(fixed)
    for kind, least in _least(section).items():
        if least is not None and (kind, section.index) in held:
            ladder = ladder.at_least(_fewest(piece, least, scale))
    if section.at_most is not None and (Kind.AT_MOST, section.index) in held:
        ladder = ladder.at_most(_most(piece, section.at_most, scale))
    if section.tighten is not None and (Kind.TIGHTEN, section.index) in held:
        ladder = ladder.at_least(section.tighten.found.bars)
    if section.stays and (Kind.LAYERS, section.index) in held:
        ladder = ladder.at_least(_room(section))
    ladder = ladder.at_most(piece.most_bars_within(longest))
    limit = _before_first_meeting(section, piece.part)
    return ladder if limit is None else ladder.at_most(limit)


def _fixed(section: Section) -> dict[Kind, int | None]:
    """Return the demands that leave a section one number of bars."""
    bars = Kind.BARS if section.free is None else Kind.FREE
    return {bars: section.bars, Kind.SETTLED: section.settled_bars}


def _least(section: Section) -> dict[Kind, Span | None]:
    """Return the demands that it be no shorter."""
    return {Kind.AT_LEAST: section.at_least, Kind.VAMP: section.vamp.at_least if section.vamp else None}


def _room(section: Section) -> int:
    """Return the fewest bars in which every layer that enters later sounds, and that leaves have time for."""
    fewest = 1
    for stay in section.stays.values():
        if stay.enters is not None:
            fewest = max(fewest, section.meters.bars_within(stay.enters) + 1)
        if stay.leaves is not None:
            within = section.meters.bars_within(stay.leaves)
            fewest = max(fewest, within if section.meters.of_bars(within) == stay.leaves else within + 1)
    return fewest


def _fewest(piece: Piece, span: Span, scale: Scale) -> int:
    if isinstance(span, Bars):
        return span.count
    return piece.most_bars_within(ceil(span.value * scale.per_second) - 1) + 1


def _most(piece: Piece, span: Span, scale: Scale) -> int:
    if isinstance(span, Bars):
        return span.count
    return piece.most_bars_within(floor(span.value * scale.per_second))


def _before_first_meeting(section: Section, part: Part) -> int | None:
    """Return the most bars that end before, or at, the first meeting; None: not known from here."""
    if not part.once or any(entry != section.index for entry, _ in part.once):
        return None
    meeting = first_meeting((0, row) for _, row in part.once)
    return None if meeting is None else part.grain.bars_within(meeting)


def draw_in(pieces: Sequence[Piece], twins: Sequence[int], answers: Sequence[Answer], goal: Goal) -> None:
    """Cut from the ladders what cannot be part of any plan; stops at the first empty one."""
    steps: tuple[Callable[[], None], ...] = (
        lambda: _draw_twins(pieces, twins),
        lambda: _draw_answers(pieces, answers),
        lambda: _draw_total(pieces, goal),
    )
    for _ in range(_ROUNDS):
        before = [(piece.ladder.first, piece.ladder.last) for piece in pieces]
        for step in steps:
            if any(piece.ladder.is_empty for piece in pieces):
                return
            step()
        if before == [(piece.ladder.first, piece.ladder.last) for piece in pieces]:
            return


def meet_twins(pieces: Sequence[Piece], twins: Sequence[int]) -> None:
    """Leave twins only the rungs that all of them have, unless these are too many to write down."""
    for first in dict.fromkeys(twins):
        family = [pieces[index] for index, its in enumerate(twins) if its == first]
        ladder: Ladder | None = family[0].ladder
        for other in family[1:]:
            ladder = ladder.met(other.ladder) if ladder is not None else None
        if ladder is not None and len(family) > 1:
            for piece in family:
                piece.ladder = ladder


def _draw_twins(pieces: Sequence[Piece], twins: Sequence[int]) -> None:
    for index, first in enumerate(twins):
        if index == first:
            continue
        one, other = pieces[first], pieces[index]
        low = max(one.ladder.lowest, other.ladder.lowest)
        high = min(one.ladder.highest, other.ladder.highest)
        for piece in (one, other):
            piece.ladder = piece.ladder.at_least(low).at_most(high)
        if one.ladder.is_empty or other.ladder.is_empty:
            return


def _draw_answers(pieces: Sequence[Piece], answers: Sequence[Answer]) -> None:
    for answer in answers:
        pays = pieces[answer.section]
        built = [pieces[index] for index in answer.built]
        if any(piece.ladder.is_empty for piece in (pays, *built)):
            return
        least = sum(piece.seconds(piece.ladder.lowest) for piece in built)
        needed = -(-answer.share * least // answer.times)
        most = answer.times * pays.seconds(pays.ladder.highest) // answer.share
        pays.ladder = pays.ladder.at_least(pays.most_bars_within(needed - 1) + 1)
        for piece in built:
            spare = most - least + piece.seconds(piece.ladder.lowest)
            piece.ladder = piece.ladder.at_most(piece.most_bars_within(spare))


def _draw_total(pieces: Sequence[Piece], goal: Goal) -> None:
    least = [piece.seconds(piece.ladder.lowest) for piece in pieces]
    most = [piece.seconds(piece.ladder.highest) for piece in pieces]
    low, high = goal.low - sum(most), goal.high - sum(least)
    for piece, shortest, longest in zip(pieces, least, most, strict=True):
        if high + shortest < longest:
            piece.ladder = piece.ladder.at_most(piece.most_bars_within(high + shortest))
        if low + longest > shortest:
            piece.ladder = piece.ladder.at_least(piece.most_bars_within(low + longest - 1) + 1)
