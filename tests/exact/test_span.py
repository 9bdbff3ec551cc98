"""How long something lasts, in bars or in time, as people write it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import PlanError
from bridge.exact import Bars, Seconds, parse_bars, parse_seconds, parse_span, show_seconds


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("24 bars", Bars(24)),
        ("24bars", Bars(24)),
        ("1 bar", Bars(1)),
        ("24", Bars(24)),
        ("2:30", Seconds(Fraction(150))),
        ("0:05.25", Seconds(Fraction(21, 4))),
        ("90:00", Seconds(Fraction(5400))),
        ("1:02:30", Seconds(Fraction(3750))),
        ("150s", Seconds(Fraction(150))),
        ("150 s", Seconds(Fraction(150))),
        ("2.5 min", Seconds(Fraction(150))),
        ("20ms", Seconds(Fraction(1, 50))),
        ("1h", Seconds(Fraction(3600))),
    ],
)
def test_a_span_is_read_exactly(text, span):
    assert parse_span(text) == span
    assert parse_span(str(span)) == span


@pytest.mark.parametrize(
    "text",
    [
        *("", "0", "0 bars", "0:00", "0s", "-1", "-1s", "1.5 bars", "1/2", "2:60", "2:3", "2::30", "1:60:00"),
        *(
            "nan",
            "inf",
            "nans",
            "1e3s",
            "9" * 13,
            "9" * 13 + ":00",
            "9" * 13 + "s",
            "2:30s",
            "bars",
            "٣ bars",
        ),
    ],
)
def test_anything_else_is_refused(text):
    with pytest.raises(PlanError):
        parse_span(text)


def test_zero_seconds_are_read_where_they_make_sense():
    assert parse_seconds("0:00", zero=True) == Seconds(Fraction(0))
    with pytest.raises(PlanError, match="more than 0"):
        parse_seconds("0:00")


def test_bars_are_told_from_time():
    with pytest.raises(PlanError, match="cannot be '2:30'"):
        parse_bars("2:30")


@given(st.integers(1, 10**6))
def test_hundredths_of_seconds_survive_being_shown(hundredths):
    seconds = Fraction(hundredths, 100)
    assert parse_seconds(show_seconds(seconds)) == Seconds(seconds)


def test_rounding_up_carries_into_the_minute():
    assert show_seconds(Fraction(59999, 1000)) == "1:00"
    assert show_seconds(Fraction(3599999, 1000)) == "1:00:00"
    assert show_seconds(Fraction(-5, 2)) == "-0:02.50"
