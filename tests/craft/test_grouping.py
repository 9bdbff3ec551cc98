"""Groupings: the reading that fits best, proven against all of them."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.craft.grouping import count_groupings, groupings, heard_accents, mixtures, readings
from bridge.craft.pattern import Pattern
from bridge.errors import MusicError, PlanError
from tests import oracle

patterns = (
    st.lists(st.integers(0, 2), min_size=2, max_size=14).filter(any).map(lambda steps: Pattern(tuple(steps)))
)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("x..x..x.", "3 3 2"),
        ("x.x..x..|x..x..x.", "2 3 3 | 3 3 2"),
        ("X.xX.xX.", "3 3 2"),
        ("x..x..x...x.x...", "3 3 4 2 4"),
        ("x.x.x..", "2 2 3"),
    ],
)
def test_a_grouping_is_found_as_players_count_it(text, said):
    barlines = (0, text.index("|")) if "|" in text else (0,)
    best, *_ = readings(Pattern.parse(text), barlines=barlines)
    assert str(best) == said


def test_written_accents_overrule_heard_ones():
    plain, *_ = readings(Pattern.parse("x.xx.xx."))
    accented, *_ = readings(Pattern.parse("X.Xx.Xx."))
    assert str(plain) == "3 3 2"
    assert str(accented) == "2 3 3"


def test_listeners_accent_a_lone_hit_the_second_of_two_and_the_ends_of_a_row():
    assert str(heard_accents(Pattern.parse("x.xx.xxx."))) == "X.xX.XxX."


@settings(max_examples=60, deadline=None)
@given(patterns, st.integers(1, 13))
def test_no_grouping_fits_better_than_the_best_and_rivals_follow_in_order(pattern, barline):
    steps = len(pattern.steps)
    barlines = (0, barline) if barline < steps else (0,)
    widths = [end - start for start, end in zip(barlines, (*barlines[1:], steps), strict=True)]
    if 1 in widths:
        with pytest.raises(MusicError, match="cannot fill"):
            readings(pattern, barlines=barlines)
        return
    heard = heard_accents(pattern).steps

    def misfit(groups: tuple[int, ...]) -> int:
        cost = 0
        at = 0
        for group in groups:
            cost += (heard[at] == 0) + sum(heard[at + 1 : at + group])
            at += group
        return cost

    ways = [sum(way, ()) for way in product(*(groupings(width, (2, 3, 4)) for width in widths))]
    found = readings(pattern, barlines=barlines, rivals=4)
    assert [one.misfit for one in found] == sorted(map(misfit, ways))[:5]
    assert all(one.misfit == misfit(one.groups) for one in found)
    assert len({one.bars for one in found}) == len(found)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 12), st.sets(st.integers(1, 6), min_size=1))
def test_counting_groupings_agrees_with_listing_and_with_sympy(steps, parts):
    ways = count_groupings(steps, tuple(parts))
    listed = list(groupings(steps, tuple(parts)))
    assert len(set(listed)) == len(listed) == ways
    # The ways are the coefficients of 1 / (1 - x^a - x^b ...).
    sympy = oracle("sympy")
    ring = sympy.ring("x", sympy.ZZ)[0]
    row = sympy.polys.ring_series.rs_series_inversion(
        1 - sum(ring.gens[0] ** part for part in parts), ring.gens[0], steps + 1
    )
    assert row.coeff(ring.gens[0] ** steps if steps else 1) == ways


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 24), st.sets(st.integers(1, 7), min_size=1))
def test_mixtures_are_the_partitions_that_sympy_lists(steps, parts):
    partitions = oracle("sympy.utilities.iterables").partitions
    theirs = {
        tuple(sorted((part for part, count in one.items() for _ in range(count)), reverse=True))
        for one in partitions(steps)
        if set(one) <= parts
    }
    ours = list(mixtures(steps, tuple(parts)))
    assert len(ours) == len(set(ours))
    assert set(ours) == theirs


def test_sizes_that_are_none_are_refused():
    with pytest.raises(PlanError, match="1 or more"):
        readings(Pattern.parse("x."), parts=(0,))
