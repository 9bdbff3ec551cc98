"""Length, Place and Ratio: three exact kinds of number whose algebra refuses nonsense.

A place minus a place is a length; a place plus a place is a TypeError; a length
over a length is a ratio; a float is refused at the door.  Unit of lengths and
places: the whole note.  This file knows nothing about bars, tempo or seconds.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Self, overload

from bridge.exact.number import exact

__all__ = ["Length", "Place", "Ratio"]


class _Quantity:
    """What the three share: one frozen rational, compared and hashed within its own kind."""

    __slots__ = ("_value",)
    _value: Fraction

    def __init__(self, value: Fraction | int | str = 0) -> None:
        object.__setattr__(self, "_value", exact(value))

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"{type(self).__name__} is immutable")

    def __reduce__(self) -> tuple[type[Self], tuple[Fraction]]:
        return type(self), (self._value,)

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._value == other._value

    def __lt__(self, other: Self) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._value < other._value

    def __le__(self, other: Self) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._value <= other._value

    def __gt__(self, other: Self) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._value > other._value

    def __ge__(self, other: Self) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._value >= other._value

    def __hash__(self) -> int:
        return hash((type(self).__name__, self._value))

    def __bool__(self) -> bool:
        return self._value != 0

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._value!r})"

    def __str__(self) -> str:
        return str(self._value)


class Ratio(_Quantity):
    """A number without a unit: a rate, a share, one length over another."""

    __slots__ = ()

    @property
    def value(self) -> Fraction:
        """The bare rational."""
        return self._value

    def __mul__(self, other: Ratio | int) -> Ratio:
        if isinstance(other, Ratio):
            return Ratio(self._value * other._value)
        if _is_whole(other):
            return Ratio(self._value * other)
        return NotImplemented

    __rmul__ = __mul__

    def __truediv__(self, other: Ratio | int) -> Ratio:
        if isinstance(other, Ratio):
            return Ratio(self._value / other._value)
        if _is_whole(other):
            return Ratio(self._value / other)
        return NotImplemented


class Length(_Quantity):
    """A musical duration in whole notes; negative when it reaches backwards."""

    __slots__ = ()

    @property
    def whole_notes(self) -> Fraction:
        """The duration in whole notes."""
        return self._value

    @property
    def quarters(self) -> Fraction:
        """The duration in quarter notes."""
        return self._value * 4

    def __add__(self, other: Length) -> Length:
        if isinstance(other, Length):
            return Length(self._value + other._value)
        return NotImplemented

    def __sub__(self, other: Length) -> Length:
        if isinstance(other, Length):
            return Length(self._value - other._value)
        return NotImplemented

    def __neg__(self) -> Length:
        return Length(-self._value)

    def __abs__(self) -> Length:
        return Length(abs(self._value))

    def __mul__(self, other: Ratio | int) -> Length:
        if isinstance(other, Ratio):
            return Length(self._value * other.value)
        if _is_whole(other):
            return Length(self._value * other)
        return NotImplemented

    __rmul__ = __mul__

    @overload
    def __truediv__(self, other: Length) -> Ratio: ...
    @overload
    def __truediv__(self, other: Ratio | int) -> Length: ...
    def __truediv__(self, other: Length | Ratio | int) -> Ratio | Length:
        if isinstance(other, Length):
            return Ratio(self._value / other._value)
        if isinstance(other, Ratio):
            return Length(self._value / other.value)
        if _is_whole(other):
            return Length(self._value / other)
        return NotImplemented

    def __floordiv__(self, other: Length) -> int:
        """Count how many whole times ``other`` fits, rounded down."""
        if isinstance(other, Length):
            return self._value // other._value
        return NotImplemented

    def __mod__(self, other: Length) -> Length:
        """Return what is left over, from 0 up to but not including ``other``."""
        if isinstance(other, Length):
            return Length(self._value % other._value)
        return NotImplemented


class Place(_Quantity):
    """An instant in musical time: whole notes after the plan's bar 1, beat 1.

    Negative places lie before it: a pickup, a count-in.
    """

    __slots__ = ()

    @property
    def whole_notes(self) -> Fraction:
        """Whole notes since the plan's first barline."""
        return self._value

    @property
    def quarters(self) -> Fraction:
        """Quarter notes since the plan's first barline."""
        return self._value * 4

    @property
    def since_start(self) -> Length:
        """The length from the plan's first barline to here."""
        return Length(self._value)

    def __add__(self, other: Length) -> Place:
        if isinstance(other, Length):
            return Place(self._value + other.whole_notes)
        return NotImplemented

    @overload
    def __sub__(self, other: Place) -> Length: ...
    @overload
    def __sub__(self, other: Length) -> Place: ...
    def __sub__(self, other: Place | Length) -> Length | Place:
        if isinstance(other, Place):
            return Length(self._value - other._value)
        if isinstance(other, Length):
            return Place(self._value - other.whole_notes)
        return NotImplemented


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)
