"""Layers drawn over bars: where each is home, so that a player sees it at a glance.

Short stretches are drawn note by note, as many bars a line as fit; long ones with one
sign a bar.  At most 80 columns.  This file knows no command: it returns lines of text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from bridge.cli.output import safe
from bridge.cycles import Layer, divisor
from bridge.exact import Length, Meters

__all__ = ["Signs", "draw"]

_COLUMNS = 80
_NAME = 14
_MOST_LINES = 42
_GROUP = 8
_MOST_GROUPS = 7
_MOST_BARS = 448
_FINEST = Length("1/16")


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """What stands for what; every sign is one column wide."""

    home: str
    together: str
    beat: str
    later: str
    bar: str

    @classmethod
    def of(cls, *, plain: bool) -> Signs:
        """Return the signs for a terminal, in plain ASCII where it holds nothing else."""
        if plain:
            return cls(home="o", together="@", beat=".", later="+", bar="|")
        return cls(home="○", together="●", beat="·", later="+", bar="│")


def draw(meters: Meters, layers: Sequence[Layer], *, bars: int, signs: Signs) -> list[str]:
    """Return the drawing of ``layers`` over the first ``bars`` bars and the barline after them."""
    picture = _Picture(meters=meters, layers=tuple(layers), signs=signs)
    return picture.note_by_note(bars) or picture.bar_by_bar(bars)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Picture:
    """The layers over their meters, ready to be drawn."""

    meters: Meters
    layers: tuple[Layer, ...]
    signs: Signs
    crowds: dict[Length, int] = field(default_factory=dict)
    """How many are home at an instant, kept once counted."""

    def note_by_note(self, bars: int) -> list[str] | None:
        """Draw systems of whole bars; None where that gets too wide or too long to take in."""
        cell = self._cell()
        longest = max(meter.length for meter in self.meters.row) // cell
        across = _across((_COLUMNS - _NAME - 3) // (longest + 1), bars)
        if not across or -(-bars // across) * (len(self.layers) + 2) > _MOST_LINES:
            return None
        lines: list[str] = []
        for first in range(1, bars + 1, across):
            last = min(first + across - 1, bars)
            lines += [*self._system(first, last, cell, landing=last == bars), ""]
        between = any(self.signs.later in line for line in lines)
        return [*lines, self._legend(later="home, a little later" if between else None, empty="beat")]

    def bar_by_bar(self, bars: int) -> list[str]:
        """Draw one sign a bar, in groups of eight bars."""
        shown, across = min(bars, _MOST_BARS), _GROUP * _MOST_GROUPS
        lines: list[str] = []
        for first in range(1, shown + 1, across):
            last = min(first + across - 1, shown)
            heads = (f"{bar:<{_GROUP}}" for bar in range(first, last + 1, _GROUP))
            lines.append((" " * (_NAME + 1) + " ".join(heads)).rstrip())
            for layer in self.layers:
                row = "".join(self._whole_bar(layer, bar) for bar in range(first, last + 1))
                groups = (row[start : start + _GROUP] for start in range(0, len(row), _GROUP))
                end = self._landing(layer, bars) if last == bars else ""
                lines.append(f"{_name(layer)} {' '.join(groups)}{end}")
            lines.append("")
        lines.append("One sign a bar; after the rule, the landing." if shown == bars else "One sign a bar.")
        lines.append(self._legend(later="home, not on the one", empty="not in this bar"))
        if shown < bars:
            lines.append(f"These are the first {shown} of {bars:,} bars.")
        return lines

    def _cell(self) -> Length:
        """Return the note of one column: as fine as the homes need, a sixteenth at the finest."""
        bars = [part for meter in self.meters.row for part in (meter.length, meter.beat)]
        homes = [part for layer in self.layers for part in (layer.turn, layer.start) if part]
        exact = divisor([*bars, *homes])
        return exact if exact >= _FINEST else divisor([*bars, _FINEST])

    def _system(self, first: int, last: int, cell: Length, *, landing: bool) -> list[str]:
        """Draw some bars side by side; the landing is one more column after the last barline."""
        bars, rule = range(first, last + 1), self.signs.bar
        head = "".join(f" {bar:<{self.meters.bar(bar).length // cell}}" for bar in bars)
        lines = [(" " * (_NAME + 1) + head + (f" {last + 1}" if landing else "")).rstrip()]
        for layer in self.layers:
            drawn = rule.join(self._bar(layer, bar, cell) for bar in bars)
            end = self._landing(layer, last) if landing else rule
            lines.append(f"{_name(layer)} {rule}{drawn}{end}")
        return lines

    def _bar(self, layer: Layer, bar: int, cell: Length) -> str:
        start, meter = self.meters.of_bars(bar - 1), self.meters.bar(bar)
        columns = []
        for index in range(meter.length // cell):
            empty = " " if cell * index % meter.beat else self.signs.beat
            columns.append(self._home(layer, start + cell * index, cell) or empty)
        return "".join(columns)

    def _whole_bar(self, layer: Layer, bar: int) -> str:
        start = self.meters.of_bars(bar - 1)
        return self._home(layer, start, self.meters.bar(bar).length) or self.signs.beat

    def _landing(self, layer: Layer, bars: int) -> str:
        """Return the rule after the last bar, and the sign of who is home on the barline."""
        at = self.meters.of_bars(bars)
        return self.signs.bar + ((self._home(layer, at, _FINEST) or "") if layer.is_home(at) else "")

    def _home(self, layer: Layer, at: Length, cell: Length) -> str | None:
        """Return the sign of the layer's home in the column at ``at``; None: it has none there."""
        home = layer.home_at_or_after(at)
        if home >= at + cell:
            return None
        if home > at:
            return self.signs.later
        if at not in self.crowds:
            self.crowds[at] = sum(one.is_home(at) for one in self.layers)
        return self.signs.together if self.crowds[at] > 1 else self.signs.home

    def _legend(self, *, later: str | None, empty: str) -> str:
        signs = self.signs
        middle = f"   {signs.later} {later}" if later else ""
        return f"{signs.home} home   {signs.together} home with another{middle}   {signs.beat} {empty}"


def _name(layer: Layer) -> str:
    shown = safe(layer.name)
    return f"{shown if len(shown) <= _NAME else shown[: _NAME - 2] + '..':<{_NAME}}"


def _across(room: int, bars: int) -> int:
    """Return the bars a line: as many as fit of 1, 2, 4, 8, 16 or a number that divides all evenly."""
    most = min(room, bars)
    return max(
        (count for count in range(1, most + 1) if bars % count == 0 or count in (2, 4, 8, 16)), default=0
    )
