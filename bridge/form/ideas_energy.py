"""Ideas for remedies by energy: other points for one section or a few.

Ideas only: each is tried before it is told.  Energies move in fives, as people write
them.  This file knows nothing about lengths.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from bridge.form.desk import Desk
from bridge.form.edits import Edit, Energy
from bridge.form.finding import Finding
from bridge.form.rules import BAND, HIGH, LOW, MIDDLE, SIGN, STEP
from bridge.form.score import Score

__all__ = ["another_level", "clear_end", "higher_payoff", "hint", "payoff_near", "step", "wider_range"]

Idea = tuple[Edit, ...]
Points = tuple[Fraction, ...]

_FIVE = Fraction(5)
_FLOOR, _TOP = Fraction(0), Fraction(100)


def wider_range(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Raise the highest section, lower the lowest, or both."""
    score = desk.score
    lowest = min(score.known, key=lambda index: min(score.energy(index)))
    highest = max(score.known, key=lambda index: (max(score.energy(index)), score.lasts(index)))
    low, high = min(score.energy(lowest)), max(score.energy(highest))
    up, down = _fives_up(low + finding.limit), _fives_down(high - finding.limit)
    if down >= _FLOOR:
        yield (_lowered(score, lowest, down),)
    if up <= _TOP:
        yield (_raised(score, highest, up),)
    for top in (Fraction(85), Fraction(90), Fraction(95), _TOP):
        bottom = _fives_down(top - finding.limit)
        if top > high and _FLOOR <= bottom < low:
            if lowest == highest:
                yield (Energy(section=lowest, points=(bottom, top)),)
            else:
                yield (_lowered(score, lowest, bottom), _raised(score, highest, top))


def another_level(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let one section of the stretch rise or fall, the longest first."""
    score = desk.score
    for index in sorted(finding.sections, key=score.lasts, reverse=True):
        if index in score.silent:
            continue
        first, last = score.energy(index)[0], score.energy(index)[-1]
        for by in (BAND + _FIVE, BAND + 3 * _FIVE):
            ways = ((first, last + by), (first, last - by), (first - by, last), (first + by, last))
            smooth = sorted((_begins_lower(score, index, way), _leap(score, index, way), way) for way in ways)
            yield from ((Energy(section=index, points=way),) for _, _, way in smooth if _fits(way))
            dip = (first, min(first, last) - by, last)
            if _fits(dip):
                yield (Energy(section=index, points=dip),)


def clear_end(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let the end sink or rise clear of the middle, the nearer way first."""
    score = desk.score
    last = score.sounding[-1]
    points = score.energy(last)
    low, high = _fives_down(MIDDLE - finding.limit), _fives_up(MIDDLE + finding.limit)
    targets = [target for target in (low, high, low - STEP, high + STEP) if _FLOOR <= target <= _TOP]
    for target in sorted(targets, key=lambda target: abs(target - points[-1])):
        yield (Energy(section=last, points=(*(points[:-1] or points), target)),)


def payoff_near(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let a section within reach rise to a payoff, or break the low passage in the middle."""
    score = desk.score
    end = score.starts[finding.sections[-1] + 1]
    after = [index for index in score.known if index > finding.sections[-1]]
    near = [index for index in after if score.starts[index] - end <= finding.limit]
    for index in near:
        for top in (HIGH + _FIVE, HIGH + 3 * _FIVE, _TOP):
            yield (_raised(score, index, top),)
            yield (Energy(section=index, points=(*score.energy(index)[:1], top)),)
    for index in finding.sections[1:] or finding.sections:
        if index not in score.silent:
            yield (Energy(section=index, points=(*score.energy(index)[:1], LOW + 2 * _FIVE)),)


def hint(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let the end of the low passage rise a little towards what comes."""
    score = desk.score
    for index in reversed(finding.sections):
        if index in score.silent:
            continue
        points = score.energy(index)
        for by in (2 * _FIVE, SIGN, 3 * _FIVE):
            if points[-1] + by <= _TOP:
                yield (Energy(section=index, points=(*(points[:-1] or points), points[-1] + by)),)
            if points[0] >= by:
                yield (Energy(section=index, points=(points[0] - by, *(points[1:] or points))),)


def higher_payoff(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Raise the payoff above what came before it, or hold that back, or both."""
    score, (index,) = desk.score, finding.sections
    before = _since_last_payoff(score, index)
    peak = max(score.energy(index))
    rival = max(max(score.energy(other)) for other in before)
    wanted = _fives_up(rival + finding.limit)
    if wanted <= _TOP:
        yield (_raised(score, index, wanted),)
    for top in dict.fromkeys((peak, _fives_up(max(peak, Fraction(90))), _TOP)):
        ceiling = _fives_down(top - finding.limit)
        if ceiling < _FLOOR:
            continue
        held = tuple(
            Energy(section=other, points=_held(score.energy(other), ceiling))
            for other in before
            if max(score.energy(other)) > ceiling
        )
        yield (*held, _raised(score, index, top)) if top > peak else held


def step(desk: Desk, finding: Finding) -> Iterator[Idea]:
    """Let energy step up or down at a barline within the stretch: ease before it, or begin anew after."""
    score = desk.score
    for index in finding.sections[1:]:
        before, here = score.energy(index - 1), score.energy(index)
        if not before or not here:
            continue
        eased = _fives_down(here[0] - STEP)
        if eased >= _FLOOR:
            yield (Energy(section=index - 1, points=(*(before[:-1] or ()), eased)),)
        for by in (STEP, -STEP, STEP + _FIVE, -STEP - _FIVE):
            points = (before[-1] + by, *here[1:]) if len(here) > 1 else (before[-1] + by,)
            if _fits(points):
                yield (Energy(section=index, points=points),)


def _since_last_payoff(score: Score, index: int) -> list[int]:
    payoffs = [section.index for section in score.plan.sections[:index] if section.pays_off is not None]
    return [other for other in score.known if (payoffs[-1] if payoffs else -1) < other < index]


def _begins_lower(score: Score, index: int, points: Points) -> bool:
    """Tell whether a payoff would begin lower than it does: it should not."""
    return score.plan.sections[index].pays_off is not None and points[0] < score.energy(index)[0]


def _leap(score: Score, index: int, points: Points) -> Fraction:
    """Return how far the points leave what stands before and after them: less is smoother."""
    leap = Fraction(0)
    if index > 0 and score.energy(index - 1):
        leap += abs(points[0] - score.energy(index - 1)[-1])
    if index + 1 < len(score.sections) and score.energy(index + 1):
        leap += abs(points[-1] - score.energy(index + 1)[0])
    return leap


def _raised(score: Score, index: int, top: Fraction) -> Energy:
    """Lift the highest points of a section to ``top``, and keep its others."""
    points = score.energy(index)
    return Energy(section=index, points=_moved(points, max(points), top))


def _lowered(score: Score, index: int, bottom: Fraction) -> Energy:
    """Lower the lowest points of a section to ``bottom``, and keep its others."""
    points = score.energy(index)
    return Energy(section=index, points=_moved(points, min(points), bottom))


def _moved(points: Points, which: Fraction, to: Fraction) -> Points:
    return tuple(to if point == which else point for point in points)


def _held(points: Points, ceiling: Fraction) -> Points:
    """Sink a section under ``ceiling`` and keep its shape, as far as the floor lets it."""
    by = max(points) - ceiling
    sunk = tuple(max(_FLOOR, point - by) for point in points)
    return sunk if len(set(sunk)) > 1 else sunk[:1]


def _fits(points: Sequence[Fraction]) -> bool:
    return all(_FLOOR <= point <= _TOP for point in points)


def _fives_up(points: Fraction) -> Fraction:
    return -(-points // _FIVE) * _FIVE


def _fives_down(points: Fraction) -> Fraction:
    return points // _FIVE * _FIVE
