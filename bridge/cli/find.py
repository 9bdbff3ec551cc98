"""``pulsebridge find``: backwards, the cycles whose first full meeting is the landing.

This file reads the options and says what was found; the search stands in ``cycles``.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Annotated

import typer

from bridge.cli.layer_options import read, read_grid, read_layers, read_meters, read_name
from bridge.cli.output import note, print_json, write_lines
from bridge.cycles import Layer, earned_cycles, meetings
from bridge.cycles.words import joined
from bridge.errors import UsageError
from bridge.exact import Bars, Length, Meters, parse_bars

__all__ = ["command"]

_COLUMNS = 80
_START = Length(0)


def command(
    *,
    bars: Annotated[str, typer.Option(help="The span: 68bars, or 68.", metavar="BARS")],
    new: Annotated[str, typer.Option("--for", help="The layer that a cycle is sought for.", metavar="NAME")],
    layer: Annotated[
        list[str] | None, typer.Option(help="The others: NAME=CYCLE[@START][xRATE].", metavar="LAYER")
    ] = None,
    meter: Annotated[
        str, typer.Option(help="4/4, 2+2+3/8, or a repeating list: 4/4,4/4,7/8.", metavar="METER")
    ] = "4/4",
    grid: Annotated[
        str, typer.Option(help="Cycles are whole multiples of this note.", metavar="NOTE")
    ] = "1/16",
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """Find the cycles for one more layer that first meets all the others at the end of the bars.

    It starts with the section; the end is the first instant after the start at which all
    are home together, so the landing is earned.

    \b
    Example:
      pulsebridge find --meter 4/4 --bars 68 --layer band=4bars --for drum
    """
    meters = read_meters(meter)
    others = read_layers(layer or [], meters)
    name = read_name("--for", new)
    if name in [other.name for other in others]:
        raise UsageError(
            f"--for: {name!r} is one of the others already", hint="Leave it out of --layer, or name another."
        )
    count = read("--bars", lambda: parse_bars(bars))
    span, step = meters.of_bars(count.count), read_grid(grid)
    found = read("--grid", lambda: earned_cycles(span, others, grid=step))
    if json:
        print_json({"cycles": [str(cycle) for cycle in found.cycles], "why": found.why})
    elif found.why is not None:
        note(f"pulsebridge: {found.why}.")
    else:
        write_lines(_in_lines(name, found.cycles, others, meters, count))
    return 0 if found.cycles else 1


def _in_lines(
    name: str, cycles: Sequence[Length], others: Sequence[Layer], meters: Meters, count: Bars
) -> list[str]:
    """One line a cycle: its turns, and how many times it meets each of the others up to the end."""
    span = meters.of_bars(count.count)
    who = joined([other.name for other in others])
    head = f"{count} of {meters}: with these cycles {name} first meets {who} at the end."
    columns = [["cycle", *map(str, cycles)], ["turns", *(str(span // cycle) for cycle in cycles)]]
    columns += [
        [f"meets {other.name}", *(_times(cycle, other, span) for cycle in cycles)] for other in others
    ]
    widths = [2 + max(map(len, column)) for column in columns]
    if sum(widths) > _COLUMNS:
        columns, widths = columns[:2], widths[:2]
    rows = zip(*columns, strict=True)
    lines = ["".join(f"{entry:>{width}}" for entry, width in zip(row, widths, strict=True)) for row in rows]
    return [*wrap(head, _COLUMNS), "", *lines]


def _times(cycle: Length, other: Layer, span: Length) -> str:
    """Count the meetings after the start, the landing included."""
    met = meetings((Layer(name="for", cycle=cycle), other))
    return "never" if met is None else f"{met.count_between(_START, span) + 1:,}"
