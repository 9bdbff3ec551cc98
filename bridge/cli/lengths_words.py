"""The answer of ``lengths`` in words, at 80 columns: a table, the meetings on the way, a drawing.

This file knows nothing about options or JSON.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from textwrap import wrap

from bridge.cli.drawing import Signs, draw
from bridge.cli.lengths_answer import Answer, Question
from bridge.cli.on_the_way import on_the_way_in_lines
from bridge.cli.output import safe
from bridge.cycles import Layer, NearLengths, meetings
from bridge.cycles.words import joined
from bridge.exact import Bars, Length, seconds_of, show_number, show_seconds

__all__ = ["in_lines"]

_COLUMNS = 80
_ROWS = 48
_NAME = 14


def in_lines(found: Answer, *, plain: bool) -> list[str]:
    """Return what people read: the lengths, the meetings before the one that matters, the drawing."""
    target = found.nearest or found.lengths[0]
    lines = [*_headline(found), "", *_table(found)]
    if found.nearest is not None:
        lasting = f", {_time(found.question, found.nearest)}" if found.question.tempo else ""
        lines += ["", f"Nearest to {found.question.about}: {Bars(found.nearest)}{lasting}."]
    if len(found.question.layers) > 1:
        lines += ["", *on_the_way_in_lines(found, target)]
    bars = max(found.row.period_bars or 0, found.lengths[0])
    lines += ["", f"Where each is home, over {Bars(bars)}:", ""]
    signs = Signs.of(plain=plain)
    return lines + draw(found.question.meters, found.question.layers, bars=bars, signs=signs)


def _headline(found: Answer) -> list[str]:
    question = found.question
    at = f" at {show_number(question.tempo.start)}" if question.tempo else ""
    who = joined([safe(layer.name) for layer in question.resolve])
    verb = "is home" if len(question.resolve) == 1 else "are home together"
    first = f"{question.meters}{at}: the lengths after which {who} {verb}."
    again = f"The row repeats every {Bars(found.row.period_bars or 0)}."
    if isinstance(found.row, NearLengths):
        again = f"Home is within {question.within_ms:g} ms of the barline. {again}"
    return [*wrap(first, _COLUMNS), *wrap(again, _COLUMNS)]


def _table(found: Answer) -> list[str]:
    """One line a length: its time, the full meetings before it, how many turns each layer has made."""
    question, shown = found.question, found.lengths[:_ROWS]
    columns = [["bars", *map(str, shown)]]
    if question.tempo:
        columns.append(["time", *(_time(question, bars) for bars in shown)])
    if isinstance(found.row, NearLengths):
        columns.append(["off by", *(_off(found.row, question, bars) for bars in shown)])
    elif len(question.resolve) > 1:
        columns.append(["full meetings before", *(_before(question, bars) for bars in shown)])
    turns = [_turns_of(layer, question, shown) for layer in question.layers]
    note = "The figure under each name: the turns it has made by then."
    if sum(map(_width, columns + turns)) > _COLUMNS:
        turns, note = [], ""
    rows = zip(*(_right(column) for column in columns + turns), strict=True)
    lines = ["".join(row) for row in rows]
    if len(found.lengths) > _ROWS:
        lines.append(f"  ... and {len(found.lengths) - _ROWS:,} more; the last is {Bars(found.lengths[-1])}")
    return [*lines, note] if note else lines


def _before(question: Question, bars: int) -> str:
    together = meetings(question.resolve)
    if together is None:
        return ""
    return f"{together.count_between(Length(0), question.meters.of_bars(bars)):,}"


def _off(row: NearLengths, question: Question, bars: int) -> str:
    """Name the layer that is furthest off, and how far."""
    off = row.off(bars)
    worst = max(range(len(off)), key=lambda index: abs(off[index]))
    if not off[worst]:
        return "nothing"
    late = "late" if off[worst] > Length(0) else "early"
    name = _short(safe(question.resolve[worst].name))
    return f"{name} {question.milliseconds(abs(off[worst])):.1f} ms {late}"


def _turns_of(layer: Layer, question: Question, shown: Sequence[int]) -> list[str]:
    counts = [layer.turns(question.meters.of_bars(bars)) for bars in shown]
    said = (str(turns) if turns.denominator == 1 else _hundredths(turns) for turns in counts)
    return [_short(safe(layer.name)), *said]


def _hundredths(turns: Fraction) -> str:
    whole, part = divmod(round(turns * 100), 100)
    return f"{whole}.{part:02d}"


def _time(question: Question, bars: int) -> str:
    tempo = question.tempo
    return "" if tempo is None else show_seconds(seconds_of(question.meters.of_bars(bars), tempo))


def _width(column: list[str]) -> int:
    return 2 + max(map(len, column))


def _right(column: list[str]) -> list[str]:
    return [f"{entry:>{_width(column)}}" for entry in column]


def _short(name: str) -> str:
    return name if len(name) <= _NAME else name[: _NAME - 2] + ".."
