"""The option ``--delay SOURCE=MS``, the same for every command that follows a host.

``receive --measure-delay`` finds the figures.  This file knows no follower.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated

import typer

from bridge.errors import PlanError, UsageError

if TYPE_CHECKING:
    from bridge.follow import Source

__all__ = ["MOST_MS", "Delay", "read_delays"]

MOST_MS = 2000
"""Milliseconds, either way: more is no delay of a cable, a network or a sound card."""

Delay = Annotated[
    list[str] | None,
    typer.Option(
        "--delay",
        help="So many milliseconds pass from the host to here by this source (clock, timecode or osc);"
        " below 0 where its messages come before the sound. Once a source.",
        metavar="SOURCE=MS",
    ),
]


def read_delays(words: Sequence[str] | None) -> dict[Source, float]:
    """Read ``clock=12.5`` and its like; return seconds by source.  UsageError for anything else."""
    from bridge.follow import Source

    found: dict[Source, float] = {}
    for word in words or ():
        name, equals, figure = word.partition("=")
        try:
            source = Source(name.strip())
        except ValueError:
            raise _refused(word, f"there is no source {name[:40]!r}; there are {_sources()}") from None
        if not equals:
            raise _refused(word, "it names no milliseconds")
        if source in found:
            raise _refused(word, f"the delay of {source} is given twice")
        found[source] = float(_milliseconds(word, figure) / 1000)
    return found


def _milliseconds(word: str, figure: str) -> Fraction:
    from bridge.exact import parse_number

    text = figure.strip().removesuffix("ms").strip()
    sign, digits = (-1, text[1:]) if text[:1] == "-" else (1, text.removeprefix("+"))
    try:
        value = sign * parse_number(digits, what="the milliseconds")
    except PlanError as error:
        raise _refused(word, error.message) from None
    if abs(value) > MOST_MS:
        raise _refused(word, f"a delay is {-MOST_MS} to {MOST_MS} ms")
    return value


def _refused(word: str, why: str) -> UsageError:
    return UsageError(
        f"--delay {word[:60]}: {why}",
        hint="Write a source and milliseconds, as in --delay clock=12.5 or --delay osc=-8.",
    )


def _sources() -> str:
    from bridge.follow import Source

    return ", ".join(Source)
