"""What the host said, sorted: one stream of numbers for each argument of each address.

This file does not know what a stream means.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from bridge.hostmap import Message, read_number
from bridge.learn.mark import Happening

__all__ = ["Stream", "streams_of"]

_MOST_STREAMS = 4096
"""A host that makes up addresses for ever must not fill the memory."""
_FARTHEST = 10**15
"""A number beyond this is none that a host counts in."""
_GRIDS = (1.0, 0.5, 0.25, 0.1, 0.05, 0.01, 0.001)
_ENOUGH = 8


@dataclass(frozen=True, kw_only=True)
class Stream:
    """One argument over time: when it came and what it was, in order of arrival."""

    address: str
    arg: int
    at: tuple[float, ...]
    values: tuple[float, ...]
    fine: float
    """The coarsest step that the argument's type had."""

    @property
    def key(self) -> tuple[str, int]:
        """Its address and argument."""
        return self.address, self.arg

    @cached_property
    def step(self) -> float:
        """How finely it is told: that of the type, or of the round numbers that the host keeps to."""
        kinds = set(self.values)
        if len(kinds) >= _ENOUGH:
            for grid in _GRIDS:
                if grid > self.fine and all(abs(v / grid - round(v / grid)) < 1e-4 for v in kinds):
                    return grid
        return self.fine

    def between(self, start: float, end: float) -> tuple[tuple[float, float], ...]:
        """Return times and values from ``start`` on, before ``end``."""
        first, last = bisect_left(self.at, start), bisect_left(self.at, end)
        return tuple(zip(self.at[first:last], self.values[first:last], strict=True))

    def before(self, end: float) -> float | None:
        """Return the last value before ``end``, or None where there was none."""
        last = bisect_left(self.at, end)
        return self.values[last - 1] if last else None


def streams_of(happenings: Iterable[Happening]) -> tuple[Stream, ...]:
    """Sort messages into streams; an argument that was ever no number makes none."""
    found: dict[tuple[str, int], tuple[list[float], list[float], list[float]]] = {}
    spoilt: set[tuple[str, int]] = set()
    for one in happenings:
        if not isinstance(one.said, Message):
            continue
        for index, value, step in _numbers(one.said):
            key = (one.said.address, index)
            if value is None:
                spoilt.add(key)
            elif key in found or len(found) < _MOST_STREAMS:
                at, values, steps = found.setdefault(key, ([], [], []))
                at.append(one.at)
                values.append(value)
                steps.append(step)
    return tuple(
        Stream(address=key[0], arg=key[1], at=tuple(at), values=tuple(values), fine=max(steps))
        for key, (at, values, steps) in found.items()
        if key not in spoilt
    )


def _numbers(message: Message) -> list[tuple[int, float | None, float]]:
    """Return index, value (None: no number) and step of every argument."""
    if "[" in message.types or len(message.types) != len(message.args):
        return []
    rows: list[tuple[int, float | None, float]] = []
    for index, (arg, tag) in enumerate(zip(message.args, message.types, strict=True)):
        number = read_number(arg, tag)
        if number is None or abs(number.value) > _FARTHEST:
            rows.append((index, None, 0.0))
        else:
            rows.append((index, float(number.value), float(number.step)))
    return rows
