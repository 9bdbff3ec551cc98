"""Exact whole numbers in arrays: 64 bits wherever they provably fit, Python's own elsewhere.

Every sum or product of arrays in this package is taken through here or after
:func:`room_for` has widened what might not fit, so nothing ever wraps around.  A cost
may be a Fraction; it then lives in an array of objects as well.  This file knows
nothing about songs.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Array",
    "Exact",
    "added",
    "array",
    "codes",
    "is_wide",
    "largest",
    "least_of_each",
    "left_over",
    "plain",
    "taken_from",
    "times",
]

Array: TypeAlias = NDArray[Any]
Exact = int | Fraction

_LIMIT = 1 << 62


def array(values: Sequence[Exact]) -> Array:
    """Make an array of exact numbers: int64 where all are whole and fit, else of objects."""
    fits = all(type(value) is int and -_LIMIT < value < _LIMIT for value in values)
    if fits:
        return np.array(values, dtype=np.int64)
    wide = np.empty(len(values), dtype=object)
    wide[:] = values
    return wide


def is_wide(numbers: Array) -> bool:
    """Whether these are objects, which take some twenty times as long."""
    return numbers.dtype == object


def largest(numbers: Array) -> Exact:
    """Return the largest absolute value, 0 for none; exact."""
    if not len(numbers):
        return 0
    if is_wide(numbers):
        most: Exact = max(abs(numbers.min()), abs(numbers.max()))
        return most
    return max(int(numbers.max()), -int(numbers.min()))


def added(one: Array, other: Array) -> Array:
    """Add element by element, exactly; what is in 64 bits is below 2^62, so no sum wraps around."""
    total = one + other
    if is_wide(total) or largest(total) < _LIMIT:
        return total
    return total.astype(object)


def times(numbers: Array, factor: int) -> Array:
    """Multiply by a whole number, exactly."""
    if is_wide(numbers) or max(1, largest(numbers)) * abs(factor) >= _LIMIT:
        return numbers.astype(object) * factor
    return numbers * factor


def plain(value: Any) -> Exact:
    """Return a number out of an array as Python's own."""
    number: Exact = value.item() if isinstance(value, np.generic) else value
    return number


def left_over(reach: Exact, used: Array, most: Array) -> Array:
    """Return what ``used`` leaves of ``reach``, which is first cut to what ``used`` and ``most`` can need."""
    return taken_from(min(reach, largest(used) + largest(most)), used)


def taken_from(value: Exact, numbers: Array) -> Array:
    """Return ``value - numbers``, exactly."""
    whole = plain(value)
    fits = type(whole) is int and -_LIMIT < whole < _LIMIT
    difference: Array = whole - (numbers if fits else numbers.astype(object))
    return difference


def codes(columns: Sequence[Array], count: int) -> Array:
    """Return one int64 for each of ``count`` rows, equal exactly where all the columns are."""
    code = np.zeros(count, dtype=np.int64)
    width = 1
    for column in columns:
        digits, size = _digits(column)
        if width * size >= _LIMIT:
            code = np.unique(code, return_inverse=True)[1].astype(np.int64)
            width = int(code.max()) + 1
            if width * size >= _LIMIT:
                digits, size = _ranks(column)
        code = code * size + digits
        width *= size
    return code


def least_of_each(code: Array, cost: Array) -> Array:
    """Return the index of the least cost of each code, codes rising; the first among equals."""
    if not len(code):
        return np.empty(0, dtype=np.int64)
    if is_wide(cost):
        by_cost = np.argsort(cost, kind="stable")
        order = by_cost[np.argsort(code[by_cost], kind="stable")]
    else:
        order = np.lexsort((cost, code))
    sorted_codes = code[order]
    is_first = np.empty(len(order), dtype=bool)
    is_first[0] = True
    np.not_equal(sorted_codes[1:], sorted_codes[:-1], out=is_first[1:])
    return order[is_first]


def _digits(column: Array) -> tuple[Array, int]:
    """Return the column from 0 up, in its own order, and how many values it may take."""
    if not len(column) or is_wide(column):
        return _ranks(column)
    low, high = int(column.min()), int(column.max())
    return (column - low, high - low + 1) if high - low < _LIMIT else _ranks(column)


def _ranks(column: Array) -> tuple[Array, int]:
    values, ranks = np.unique(column, return_inverse=True)
    return ranks.astype(np.int64), max(1, len(values))
