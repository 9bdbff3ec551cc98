"""OSC address patterns: which of our addresses a message from the wire is meant for.

OSC 1.0, "OSC Message Dispatching and Pattern Matching"
(https://opensoundcontrol.stanford.edu/spec-1_0.html): part by part between the slashes,
with the same number of parts; ``?`` is any one character, ``*`` any run of them, ``[a-z]``
and ``[!a-z]`` one character of a set or none of it, ``{foo,bar}`` one of several strings.
A pattern that is not closed matches nothing.  ``//`` is not in OSC 1.0.  Written without
backtracking, since patterns come from strangers.  This file knows nothing about messages.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

__all__ = ["matches"]

_MARKS = frozenset("?*[{")
_LONGEST = 512
"""A pattern longer than this matches nothing: no address of ours is as long."""


@dataclass(frozen=True, slots=True)
class _Run:
    """Any run of characters, none included."""

    def after(self, text: str, places: set[int]) -> set[int]:
        return set(range(min(places, default=len(text) + 1), len(text) + 1))


@dataclass(frozen=True, slots=True)
class _OneOf:
    """One character of a set, or one that is not in it."""

    ranges: tuple[tuple[str, str], ...]
    negated: bool = False

    def after(self, text: str, places: set[int]) -> set[int]:
        return {place + 1 for place in places if place < len(text) and self._holds(text[place])}

    def _holds(self, character: str) -> bool:
        return any(low <= character <= high for low, high in self.ranges) != self.negated


@dataclass(frozen=True, slots=True)
class _Strings:
    """One of several strings."""

    choices: tuple[str, ...]

    def after(self, text: str, places: set[int]) -> set[int]:
        return {
            place + len(choice)
            for place in places
            for choice in self.choices
            if text.startswith(choice, place)
        }


_Piece = _Run | _OneOf | _Strings
_ANY_ONE = _OneOf((), negated=True)


def matches(pattern: str, address: str) -> bool:
    """Tell whether a message under ``pattern`` is meant for ``address``."""
    if _MARKS.isdisjoint(pattern):
        return pattern == address
    if len(pattern) > _LONGEST:
        return False
    parts, names = pattern.split("/"), address.split("/")
    return len(parts) == len(names) and all(
        _part_matches(part, name) for part, name in zip(parts, names, strict=True)
    )


def _part_matches(part: str, name: str) -> bool:
    pieces = _pieces(part)
    if pieces is None:
        return False
    places = {0}
    for piece in pieces:
        places = piece.after(name, places)
    return len(name) in places


@lru_cache(maxsize=256)
def _pieces(part: str) -> tuple[_Piece, ...] | None:
    """Read one part of a pattern; None when a bracket or brace in it is not closed."""
    pieces: list[_Piece] = []
    index = 0
    while index < len(part):
        mark = part[index]
        if mark in "[{":
            end = part.find("]" if mark == "[" else "}", index)
            if end < 0:
                return None
            inside = part[index + 1 : end]
            pieces.append(_set(inside) if mark == "[" else _Strings(tuple(inside.split(","))))
            index = end + 1
            continue
        pieces.append(_Run() if mark == "*" else _ANY_ONE if mark == "?" else _Strings((mark,)))
        index += 1
    return tuple(pieces)


def _set(inside: str) -> _OneOf:
    """Read what stands between brackets; a minus at the end, or ``!`` not at the start, is itself."""
    negated = inside.startswith("!")
    inside = inside[1:] if negated else inside
    ranges: list[tuple[str, str]] = []
    index = 0
    while index < len(inside):
        ranged = index + 2 < len(inside) and inside[index + 1] == "-"
        ranges.append((inside[index], inside[index + 2] if ranged else inside[index]))
        index += 3 if ranged else 1
    return _OneOf(tuple(ranges), negated)
