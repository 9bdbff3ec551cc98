"""Meters, repeating lists of them, and the beats that players count."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import PlanError
from bridge.exact import Length, Meter, Meters

meters = st.builds(
    Meter,
    st.lists(st.integers(1, 9), min_size=1, max_size=4).map(tuple),
    st.sampled_from([1, 2, 4, 8, 16, 32, 64]),
)
lists = st.lists(meters, min_size=1, max_size=5).map(lambda row: Meters(tuple(row)))


# The counted beat: common practice, no source.
@pytest.mark.parametrize(
    ("text", "beats"),
    [
        ("4/4", ["1/4"] * 4),
        ("6/8", ["3/8"] * 2),
        ("9/16", ["3/16"] * 3),
        ("12/8", ["3/8"] * 4),
        ("3/8", ["1/8"] * 3),
        ("3/4", ["1/4"] * 3),
        ("7/8", ["1/8"] * 7),
        ("2+2+3/8", ["1/4", "1/4", "3/8"]),
        ("3+3+2/8", ["3/8", "3/8", "1/4"]),
        ("1/1", ["1"]),
    ],
)
def test_the_counted_beats_of_a_meter(text, beats):
    assert Meter.parse(text).counted == tuple(map(Length, beats))


@given(meters)
def test_counted_beats_add_up_to_the_bar_and_the_text_reads_back(meter):
    assert sum((beat.whole_notes for beat in meter.counted), Fraction(0)) == meter.length.whole_notes
    assert Meter.parse(str(meter)) == meter


@pytest.mark.parametrize(
    "text",
    [
        "",
        "4",
        "4/",
        "/4",
        "0/4",
        "4/0",
        "4/3",
        "4/128",
        "-4/4",
        "4.5/4",
        "2+/8",
        "+2/8",
        "2+0/8",
        "٤/4",
        "9" * 14 + "/4",
    ],
)
def test_what_is_no_meter_is_refused(text):
    with pytest.raises(PlanError):
        Meter.parse(text)
    with pytest.raises(PlanError):
        Meters.parse(f"4/4,{text}")


@given(lists, st.integers(-40, 40))
def test_bars_and_lengths_invert(row, bars):
    length = row.of_bars(bars)
    assert row.bars_in(length) == bars
    assert row.bars_within(length) == bars
    assert row.of_bars(bars + 1) - length == row.bar(bars + 1).length


@given(lists, st.fractions(-20, 20, max_denominator=64).map(Length))
def test_the_bars_within_a_length_are_the_most_that_fit(row, length):
    bars = row.bars_within(length)
    assert row.of_bars(bars) <= length < row.of_bars(bars + 1)


def test_a_list_needs_a_meter():
    with pytest.raises(PlanError):
        Meters(())


@pytest.mark.parametrize(
    ("meters", "length", "place"),
    [
        ("4/4", "12", "13.1"),
        ("4/4", "201/16", "13.3+1/16"),
        ("6/8", "7/8", "2.2"),
        ("4/4,7/8", "2", "3.1+1/8"),
        ("4/4,7/8", "1", "2.1"),
        ("4/4", "0", "1.1"),
    ],
)
def test_a_place_is_written_with_bar_and_beat(meters, length, place):
    assert Meters.parse(meters).show_place(Length(length)) == place


def test_a_meter_of_many_groups_is_read():
    assert Meter.parse("2+2+2+2+2+2+2+2+2+2+2+2+3/16").top == 27


def test_a_number_of_thirteen_digits_in_a_meter_is_refused():
    with pytest.raises(PlanError, match="a meter cannot be"):
        Meter.parse("1000000000000/4")
