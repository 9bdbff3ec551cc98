"""Options that the commands of the craft share: a choice, a note, a wish in bars or time.

This file knows no command.
"""

from __future__ import annotations

from difflib import get_close_matches
from enum import StrEnum
from typing import TypeVar

from bridge.cli.layer_options import read
from bridge.errors import PlanError, UsageError
from bridge.exact import Bars, Length, Meters, Tempo, parse_number, parse_span, seconds_per_whole_note

__all__ = ["read_choice", "read_note", "read_wish"]

Choice = TypeVar("Choice", bound=StrEnum)


def read_choice(option: str, text: str, choices: type[Choice]) -> Choice:
    """Read one of a few words; UsageError names them all and the nearest."""
    known = [str(choice) for choice in choices]
    if text in known:
        return choices(text)
    near = get_close_matches(text, known, n=1)
    raise UsageError(
        f"{option} is {', '.join(known[:-1])} or {known[-1]}, not {text[:40]!r}",
        hint=f"Did you mean {near[0]!r}?" if near else f"Write one of them, as in {option} {known[0]}.",
    )


def read_note(option: str, text: str) -> Length:
    """Read a note longer than 0, such as 1/16 or 5/8."""

    def note() -> Length:
        value = parse_number(text, what="a note")
        if not value:
            raise PlanError(f"a note is longer than 0, not {text[:40]!r}", hint="Write it as 1/16 or 5/8.")
        return Length(value)

    return read(option, note)


def read_wish(option: str, text: str, *, meters: Meters, tempo: Tempo | None) -> Length:
    """Read a wished length, in bars or in time; time needs a tempo."""
    span = read(option, lambda: parse_span(text))
    if isinstance(span, Bars):
        return meters.of_bars(span.count)
    if tempo is None:
        raise UsageError(
            f"{option} is given in time, which needs a tempo", hint="Add --tempo, as in --tempo 115.2."
        )
    return Length(span.value / seconds_per_whole_note(tempo))
