"""Exact meetings: the period, the row of full meetings, every meeting on the way."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations, islice

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.cycles import divisor, meetings, never, on_the_way, pairs, period
from bridge.exact import Length

from .material import layer, some_layers

spans = st.fractions(min_value=0, max_value=30, max_denominator=16).map(Length)


def homes(one, before):
    at, found = one.start, set()
    while at < before:
        found.add(at)
        at += one.turn
    return found


@given(some_layers(1, 4, starts=[0]))
def test_the_period_is_a_meeting_and_nothing_earlier_is(layers):
    whole = period(layers)
    assert all(one.is_home(whole) for one in layers)
    walked = set.intersection(*(homes(one, min(whole, Length(60))) for one in layers))
    assert walked - {Length(0)} == set()


@given(some_layers(1, 3))
def test_full_meetings_are_those_that_walking_finds(layers):
    end = Length(40)
    walked = sorted(set.intersection(*(homes(one, end) for one in layers)))
    row = meetings(layers)
    if row is None:
        assert walked == []
        assert never(layers) is not None
        return
    assert never(layers) is None
    assert row.every == period(layers)
    assert [at for at in islice(row, len(walked) + 1) if at < end] == walked
    assert all(at in row for at in walked)


@settings(max_examples=50)
@given(some_layers(2, 3), spans, spans)
def test_meetings_between_two_instants_leave_out_both_ends(layers, after, before):
    row = meetings(layers)
    if row is not None:
        found = list(row.between(after, before))
        assert found == [at for at in islice(row, 700) if after < at < before]
        assert row.count_between(after, before) == len(found)


@settings(max_examples=60)
@given(some_layers(2, 4), spans, spans)
def test_every_meeting_on_the_way_is_found_with_who_is_home(layers, after, before):
    who: dict[Length, list] = {}
    for one in layers:
        for at in homes(one, before):
            if at > after:
                who.setdefault(at, []).append(one)
    walked = [(at, tuple(found)) for at, found in sorted(who.items()) if len(found) > 1]
    assert [(it.at, it.layers) for it in on_the_way(layers, after=after, before=before)] == walked


@given(some_layers(2, 4))
def test_the_two_that_are_to_blame_never_meet(layers):
    if (blamed := never(layers)) is not None:
        assert meetings((blamed.one, blamed.other)) is None
        common = divisor((blamed.one.turn, blamed.other.turn))
        assert blamed.apart % common


@given(some_layers(2, 3))
def test_layers_that_meet_two_by_two_all_meet(layers):
    two_by_two = all(meetings(two) is not None for two in combinations(layers, 2))
    assert two_by_two == (meetings(layers) is not None)


def test_why_two_never_meet_is_said_with_the_numbers():
    blamed = never([layer("band", 4), layer("bells", 1, "1/8"), layer("drum", "1/2")])
    assert str(blamed) == (
        "'band' and 'bells' are never home together: their first homes lie 1/8 of a whole note apart, and "
        "their cycles, 4 and 1, only close gaps that their greatest common divisor, 1, divides"
    )


def test_the_meetings_come_as_they_are_asked_for():
    endless = on_the_way([layer("a", "1/1000"), layer("b", "1/999")], after=Length(0), before=Length(10**9))
    assert [it.at for it in islice(endless, 3)] == [Length(1), Length(2), Length(3)]


def test_a_pair_tells_how_often_it_meets():
    (pair,) = pairs([layer("band", 4), layer("hand drum", "3/16")])
    assert pair.meetings is not None
    assert pair.meetings.every == Length(12)
    (pair,) = pairs([layer("band", 1), layer("off beat", 1, "1/8")])
    assert pair.meetings is None


def test_divisor_and_period_are_each_others_mirror():
    one, other = Length(Fraction(7, 12)), Length(Fraction(5, 8))
    assert (one / divisor((one, other))).value.denominator == 1
    assert divisor((one, other)) == Length(Fraction(1, 24))
