"""The meetings on the way to a length, for people: of all, and of each pair.

This file knows nothing about options or JSON.
"""

from __future__ import annotations

from itertools import islice
from textwrap import wrap

from bridge.cli.lengths_answer import Answer, Question
from bridge.cli.output import safe
from bridge.cycles import Meetings, Pair, meetings, near_meetings
from bridge.cycles.words import in_words
from bridge.errors import MusicError
from bridge.exact import Bars, Length, Seconds, show_seconds

__all__ = ["on_the_way_in_lines"]

_COLUMNS = 80
_PLACES = 5
_PAIRS = 28
_NEAR = 99
_START = Length(0)


def on_the_way_in_lines(found: Answer, target: int) -> list[str]:
    """Tell how often, and where, all meet and each pair meets before the end of ``target`` bars."""
    question = found.question
    end = question.meters.of_bars(target)
    parts = []
    if len(question.resolve) > 2:
        who = "all of them" if len(question.resolve) == len(question.layers) else "all to be resolved"
        parts.append(f"{who} (full meetings{_exactly(question, meetings(question.resolve), end)}")
    for pair in found.pairs[:_PAIRS]:
        names = f"{safe(pair.one.name)} and {safe(pair.other.name)}"
        near = "" if question.within is None else _nearly(question, pair, question.within, end)
        parts.append(f"{names} ({pair.relation}{_exactly(question, pair.meetings, end)}{near}")
    lines = [f"On the way to {Bars(target)}, before the end:"]
    for part in parts:
        lines += wrap(f"  {part}", _COLUMNS, subsequent_indent="    ")
    if len(found.pairs) > _PAIRS:
        lines.append(f"  ... and {len(found.pairs) - _PAIRS} pairs more; --json has them all")
    return lines


def _exactly(question: Question, row: Meetings | None, end: Length) -> str:
    """Say how often a row meets before the end, and where first; closes the bracket before it."""
    if row is None:
        return "): never"
    count = row.count_between(_START, end)
    often = f", every {in_words(row.every)})"
    if not count:
        return f"{often}: not at all"
    met = islice(row.between(_START, end), _PLACES)
    return f"{often}: {_times(count)}, at {', '.join(map(question.meters.show_place, met))}{_more(count)}"


def _nearly(question: Question, pair: Pair, within: Seconds, end: Length) -> str:
    """Say how often a pair comes near, and when first, where that is more often than it meets."""
    tolerance = question.length(within)
    if tolerance * 2 >= min(pair.one.turn, pair.other.turn):
        return f"; always near, since {question.within_ms:g} ms is half a turn or more"
    try:
        found = near_meetings((pair.one, pair.other), within=tolerance, after=_START, before=end)
        met = list(islice(found, _NEAR + 1))
    except MusicError as error:
        return f"; {error.message}"
    if not any(it.spread for it in met):
        return "" if met else "; never near"
    count = f"more than {_NEAR} times" if len(met) > _NEAR else _times(len(met))
    places = ", ".join(_when(question, it.at, it.spread) for it in met[:_PLACES])
    return f"; near {count}, at {places}{_more(len(met))}"


def _when(question: Question, at: Length, spread: Length) -> str:
    apart = f"{question.milliseconds(spread):.1f} ms apart" if spread else "exactly"
    return f"{show_seconds(question.exact_seconds(at))} ({apart})"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count:,} times"


def _more(count: int) -> str:
    return ", ..." if count > _PLACES else ""
