"""Rows of whole numbers: the general Chinese remainder theorem, and Euclid's leap into a window."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.cycles.row import Row, first_in_window

rows = st.builds(Row, st.integers(-50, 60), st.integers(1, 40))


@given(rows, rows)
def test_two_rows_meet_where_walking_both_says_so(one, other):
    end = 60 + 40 * 40 + 1
    walked = sorted(set(range(one.first, end, one.step)) & set(range(other.first, end, other.step)))
    met = one.met(other)
    if met is None:
        assert walked == []
    else:
        assert walked == list(range(met.first, end, met.step))


@given(rows, st.integers(-100, 300))
def test_the_members_around_a_number(row, number):
    after, before = row.at_or_after(number), row.at_or_before(number)
    assert after >= number
    assert after in row
    assert after == row.first or after - row.step < number
    if before is None:
        assert number < row.first
    else:
        assert before in row
        assert before <= number < before + row.step
    assert row.count_to(number) == len(range(row.first, number + 1, row.step))


def test_a_row_has_a_step():
    with pytest.raises(ValueError, match="1 or more"):
        Row(0, 0)


@given(st.integers(0, 200), st.integers(1, 120), st.data())
def test_the_first_in_a_window_is_the_one_that_walking_finds(step, modulus, data):
    low = data.draw(st.integers(0, modulus - 1))
    high = data.draw(st.integers(low, modulus - 1))
    walked = next((k for k in range(modulus) if low <= step * k % modulus <= high), None)
    assert first_in_window(step, modulus, low, high) == walked


def test_the_leap_is_short_for_huge_numbers():
    modulus = 10**40 + 1
    found = first_in_window(3**50, modulus, modulus // 2, modulus // 2 + 10)
    assert found is not None
    assert modulus // 2 <= 3**50 * found % modulus <= modulus // 2 + 10
