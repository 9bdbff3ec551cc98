"""Lists of markers that we asked the host for: what ends one, and what numbers its markers.

This file does not know which message tells of a marker until it is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from bridge.hostmap import Heard, Message, read_number
from bridge.learn.finding import Confidence, Finding
from bridge.learn.mark import Happening, Mark, What

__all__ = ["counts_along", "find_marker_end"]

_ANSWER_SECONDS = 1.0


def find_marker_end(happenings: Sequence[Happening], marker: Finding) -> Finding:
    """Find what ends a list: it came once, last, in every list that we asked for, and at no other time."""
    key = "marker_end"
    lists = _lists(happenings)
    if marker.heard is None or len(lists) < 2:
        return _no("no list of markers was asked for twice")
    answers = _answers(happenings, lists, marker.heard.address)
    ends = set.intersection(*({answer[-1]} if answer else set() for answer in answers))
    ends = {end for end in ends if all(answer.count(end) == 1 for answer in answers)}
    ends.discard(marker.heard.address)
    if len(ends) != 1:
        return _no("nothing came just once at the end of every list, and at no other time")
    return Finding(
        key=key,
        heard=Heard(address=next(iter(ends))),
        evidence=f"came once at the end of each of {len(lists)} lists, and at no other time",
        confidence=Confidence.SURE,
    )


def counts_along(happenings: Sequence[Happening], address: str, index: int, at: int) -> bool:
    """Tell whether an argument numbers the markers along the timeline, from 0 or 1, in every list.

    At least one marker must have been seen to change its number, and no list may contradict.
    """
    seen: dict[float, set[int]] = {}
    for start, end in _lists(happenings):
        told = {
            row
            for one in happenings
            if isinstance(one.said, Message) and one.said.address == address and start <= one.at < end
            if (row := _place_and_number(one.said, index, at)) is not None
        }
        numbers = [number for _, number in sorted(told)]
        if numbers not in ([*range(len(numbers))], [*range(1, len(numbers) + 1)]):
            return False
        for place, number in told:
            seen.setdefault(place, set()).add(number)
    return any(len(numbers) > 1 for numbers in seen.values())


def _place_and_number(message: Message, index: int, at: int) -> tuple[float, int] | None:
    if len(message.args) <= max(index, at) or message.types[index] not in "ih":
        return None
    place = read_number(message.args[at], message.types[at])
    return None if place is None else (float(place.value), int(message.args[index]))


def _lists(happenings: Sequence[Happening]) -> list[tuple[float, float]]:
    """Return from when to when each list that we asked for was answered."""
    asked = [one.at for one in happenings if _is_list(one)]
    return [(at, min(at + _ANSWER_SECONDS, later)) for at, later in pairwise([*asked, float("inf")])]


def _is_list(one: Happening) -> bool:
    return isinstance(one.said, Mark) and one.said.what is What.SENT and one.said.step == "list"


def _answers(
    happenings: Sequence[Happening], lists: Sequence[tuple[float, float]], marker: str
) -> list[list[str]]:
    """Return the addresses in each answer, those left out that come at other times too, but for markers."""
    told = [(one.at, one.said.address) for one in happenings if isinstance(one.said, Message)]
    elsewhere = {address for at, address in told if not any(start <= at < end for start, end in lists)}
    elsewhere.discard(marker)
    return [
        [address for at, address in told if start <= at < end and address not in elsewhere]
        for start, end in lists
    ]


def _no(why: str) -> Finding:
    return Finding(key="marker_end", heard=None, evidence=why)
