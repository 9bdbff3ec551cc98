"""Numbers out of text: exact, bounded, and nothing but plain digits."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import PlanError
from bridge.exact import MAX_DIGITS, exact, parse_number, parse_whole, show_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("0", Fraction(0)),
        ("115.2", Fraction(576, 5)),
        ("3/16", Fraction(3, 16)),
        (" 3 / 16 ", Fraction(3, 16)),
        ("007", Fraction(7)),
        ("0.000001", Fraction(1, 10**6)),
        ("999999999999", Fraction(10**12 - 1)),
    ],
)
def test_a_number_is_read_exactly(text, value):
    assert parse_number(text) == value
    assert exact(text) == value


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "-1", "+1", "1e3", "1_0", ".5", "5.", "1/0", "0/0", "1//2", "1/2/3", "nan", "inf"),
        *("٣", "³", "1,5", "0x10", "1 2", "½", "1.5/2", "1\n", "3/\n16", "9" * 13, "1." + "0" * 12),
        "1" * 100_000,
    ],
)
def test_anything_else_is_refused_in_words(text):
    with pytest.raises(PlanError) as refused:
        parse_number(text, what="the tempo")
    assert refused.value.message.startswith("the tempo ")
    assert len(refused.value.message) < 120


def test_twelve_digits_are_allowed_and_thirteen_named():
    assert MAX_DIGITS == 12
    assert parse_number("123456.789012") == Fraction(123456789012, 10**6)
    with pytest.raises(PlanError, match="13 digits; at most 12"):
        parse_number("1234567.890123")


def test_a_fraction_may_have_twelve_digits_above_and_twelve_below():
    assert parse_number("100000000001/100000000000") == Fraction(100000000001, 100000000000)
    for text in ("1000000000001/2", "2/1000000000001"):
        with pytest.raises(PlanError, match="13 digits; at most 12"):
            parse_number(text)


@pytest.mark.parametrize(("text", "least"), [("1.5", 0), ("1/2", 0), ("0", 1), ("2", 3)])
def test_a_whole_number_is_whole_and_large_enough(text, least):
    with pytest.raises(PlanError):
        parse_whole(text, least=least)


def test_a_whole_number_may_be_written_as_a_fraction_of_one():
    assert parse_whole("6/3", least=2) == 2


@given(st.integers(0, 10**6), st.sampled_from([1, 2, 3, 5, 7, 8, 10, 16, 25, 64, 125, 1000, 15625]))
def test_what_is_shown_reads_back(top, bottom):
    value = Fraction(top, bottom)
    assert parse_number(show_number(value)) == value


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction(576, 5), "115.2"),
        (Fraction(576, 7), "576/7"),
        (Fraction(-1, 8), "-0.125"),
        (Fraction(120), "120"),
        (Fraction(1, 40), "0.025"),
        (Fraction(1, 128), "1/128"),
        (Fraction(-7, 3), "-7/3"),
    ],
)
def test_a_number_is_shown_as_a_musician_writes_it(value, text):
    assert show_number(value) == text
