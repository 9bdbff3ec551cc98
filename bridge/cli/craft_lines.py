"""What the commands of the craft share: small tables, signs, places, at 80 columns.

This file knows no command.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from textwrap import wrap

from bridge.cli.output import safe
from bridge.exact import Length, Meters, Tempo, seconds_per_whole_note

__all__ = ["COLUMNS", "Strokes", "as_seconds", "decimal", "place", "short", "table", "wrapped"]

COLUMNS = 80
_NAME = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Strokes:
    """What stands for what in a drawing of strokes on a grid; every sign is one column wide."""

    accent: str
    hit: str
    rest: str
    bar: str

    @classmethod
    def of(cls, *, plain: bool) -> Strokes:
        """Return the signs for a terminal, in plain ASCII where it holds nothing else."""
        if plain:
            return cls(accent="X", hit="x", rest=".", bar="|")
        return cls(accent="●", hit="○", rest="·", bar="│")

    def drawn(self, pattern: str) -> str:
        """Draw a pattern as it is written, ``X`` and ``x`` and ``.`` and ``|``."""
        return pattern.translate(str.maketrans("Xx.|", self.accent + self.hit + self.rest + self.bar))


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = ()) -> list[str]:
    """Set rows in columns two spaces apart; the columns numbered in ``right`` (from 0) end flush."""
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    lines = []
    for row in (heads, *rows):
        cells = (
            f"{cell:>{width}}" if index in right else f"{cell:<{width}}"
            for index, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        lines.append("  ".join(cells).rstrip())
    return lines


def wrapped(text: str, *, narrower: int = 0) -> list[str]:
    """Wrap a sentence to the columns, or some fewer."""
    return wrap(text, COLUMNS - narrower)


def short(name: str) -> str:
    """Show a name safely, in 14 columns at most."""
    shown = safe(name)
    return shown if len(shown) <= _NAME else shown[: _NAME - 2] + ".."


def place(meters: Meters, at: Length) -> str:
    """Write where ``at`` falls, counted from where the meters begin."""
    return meters.show_place(at)


def as_seconds(length: Length, tempo: Tempo | None) -> float | None:
    """Return how long ``length`` lasts, or None without a tempo."""
    return None if tempo is None else float(length.whole_notes * seconds_per_whole_note(tempo))


def decimal(value: Fraction) -> str:
    """Write a measured number with two decimals at most: 1.2, 2, 42.2."""
    return f"{float(value):.2f}".rstrip("0").rstrip(".")
