"""Good lengths: against walking bar by bar, and with their reasons when there are none."""

from __future__ import annotations

from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.cycles import GoodLengths, good_lengths, nearest
from bridge.exact import Length, Meters

from .material import METERS, layer, some_layers

FOUR = Meters.parse("4/4")
END = 150


def walked(meters, layers, end=END):
    return [n for n in range(1, end + 1) if all(one.is_home(meters.of_bars(n)) for one in layers)]


@settings(max_examples=120)
@given(METERS, some_layers(1, 3))
def test_good_lengths_are_those_that_walking_bar_by_bar_finds(meters, layers):
    good = good_lengths(meters, layers)
    found = walked(meters, layers)
    assert [n for n in islice(good, len(found) + 1) if n <= END] == found
    assert good.count_to(END) == len(found)
    assert [n for n in range(1, END + 1) if n in good] == found
    if good.period_bars is None:
        assert found == []
        assert good.why


@given(METERS, some_layers(1, 2))
def test_the_period_is_the_shortest_after_which_the_row_repeats(meters, layers):
    good = good_lengths(meters, layers)
    if good.period_bars is None or good.period_bars > 60:
        return
    start = good.firsts[0]
    row = [n in good for n in range(start, start + 4 * good.period_bars)]
    half = len(row) // 2
    repeats = [step for step in range(1, half) if row[step:] == row[:-step]]
    assert repeats[0] == good.period_bars


@settings(max_examples=60)
@given(METERS, some_layers(1, 2), st.integers(0, END), st.integers(1, END))
def test_around_a_wish(meters, layers, bars, up_to):
    good, found = good_lengths(meters, layers), walked(meters, layers, 3 * END)
    after, before = good.at_or_after(bars), good.at_or_before(bars)
    assert before == max((n for n in found if n <= bars), default=None)
    if after is not None and after <= 3 * END:
        assert after == min(n for n in found if n >= bars)
    wish = meters.of_bars(bars)
    for most in (None, up_to):
        by_walking = [n for n in found if most is None or n <= most]
        ours = nearest(good, wish, up_to=most)
        if ours is not None and ours <= 3 * END:
            assert ours == min(by_walking, key=lambda n: (abs(meters.of_bars(n) - wish), n))
        elif ours is None:
            assert by_walking == []


def test_a_repeating_list_makes_interleaved_rows():
    good = good_lengths(Meters.parse("4/4,3/4"), [layer("quarter", "1/4")])
    assert (good.period_bars, good.firsts) == (1, (1,))
    good = good_lengths(Meters.parse("4/4,4/4,7/8"), [layer("half", "1/2")])
    assert (good.period_bars, good.firsts) == (12, (1, 2, 12))
    assert list(islice(good, 7)) == [1, 2, 12, 13, 14, 24, 25]


def test_a_late_first_home_puts_off_the_first_good_length_only():
    good = good_lengths(FOUR, [layer("band", 4), layer("late", 1, 9)])
    assert list(islice(good, 3)) == [12, 16, 20]
    assert good.period_bars == 4


def test_the_longest_periods_cost_nothing():
    layers = [layer(str(prime), f"{prime}/64") for prime in (999983, 999979, 999961, 999959)]
    good = good_lengths(FOUR, layers)
    assert good.period_bars == 999983 * 999979 * 999961 * 999959
    assert list(islice(good, 2)) == [good.period_bars, 2 * good.period_bars]


@pytest.mark.parametrize(
    ("meters", "layers", "said"),
    [
        ("4/4", [layer("band", 4, "1/8")], "between beats 1 and 2"),
        ("4/4", [layer("band", 1, "1/2")], "on beat 3"),
        ("4/4", [layer("band", 1, "7/8")], "between beat 4 and the barline after it"),
        ("4/4", [layer("band", 4), layer("off", 1, "1/8")], "never home together"),
        ("4/4,7/8", [layer("band", "15/8", "1/8")], "between beats 1 and 2 of bar 1 of the list"),
    ],
)
def test_when_there_is_none_it_says_why(meters, layers, said):
    good = good_lengths(Meters.parse(meters), layers)
    assert (good.period_bars, good.firsts, list(good)) == (None, (), [])
    assert said in str(good.why)
    assert nearest(good, Length(10)) is None


def test_good_lengths_without_a_reason_or_a_period_do_not_exist():
    with pytest.raises(ValueError, match="or a reason"):
        GoodLengths(meters=FOUR, firsts=(), period_bars=None)
