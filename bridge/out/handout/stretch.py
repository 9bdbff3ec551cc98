"""What a handout shows: some parts over some bars, from a section of a song or from layers alone.

This file draws nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from bridge.cycles import Layer, meetings
from bridge.errors import UsageError
from bridge.exact import Length, Meter, Meters, Place, Tempo
from bridge.song import Gathering, Part, PlacedSection, gathering, left_open

__all__ = ["Stretch", "stretch_of_layers", "stretch_of_section"]

_NOTHING = Length(0)
_MOST_BARS = 100_000
"""A period longer than this is not drawn from its beginning: nobody could read it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Parts over bars: bar ``first_bar`` begins at ``start``, where the list of meters begins too."""

    title: str
    parts: tuple[Part, ...]
    together: Gathering | None
    meters: Meters
    tempo: Tempo | None
    start: Place
    first_bar: int
    bars: int
    pickup: Length = _NOTHING
    """What sounds before its first bar; told, not drawn."""

    @property
    def end(self) -> Place:
        """The barline after the last bar."""
        return self.barline(self.first_bar + self.bars)

    def barline(self, bar: int) -> Place:
        """Return the place where ``bar`` begins."""
        return self.start + self.meters.of_bars(bar - self.first_bar)

    def meter(self, bar: int) -> Meter:
        """Return the meter of ``bar``."""
        return self.meters.bar(bar - self.first_bar + 1)

    def numbers(self) -> range:
        """Return the numbers of its bars."""
        return range(self.first_bar, self.first_bar + self.bars)

    def meetings(self) -> Iterator[Place]:
        """Walk through the full meetings in it, its end included."""
        if self.together is None:
            return iter(())
        return self.together.between(self.start, self.end + Length(Fraction(1, 10**12)))

    @property
    def shortest_turn(self) -> Length:
        """The shortest turn of all."""
        turns = (piece.layer.turn for part in self.parts for piece in part.stretches)
        return min(turns, key=lambda turn: turn.whole_notes)


def stretch_of_layers(
    layers: Sequence[Layer], meters: Meters, *, bars: int | None, tempo: Tempo | None, title: str | None
) -> Stretch:
    """Return one period of ``layers`` from where all enter, or as many ``bars`` as are asked for.

    UsageError when no number of bars is given and no barline is ever a full meeting.
    """
    shown = bars if bars is not None else _period_in_bars(layers, meters)
    end = Place(0) + meters.of_bars(shown)
    parts = tuple(Part(layer=layer, section=0, entry=Place(0), start=Place(0), end=end) for layer in layers)
    return Stretch(
        title=title or ", ".join(layer.name for layer in layers),
        parts=parts,
        together=gathering(parts),
        meters=meters,
        tempo=tempo,
        start=Place(0),
        first_bar=1,
        bars=shown,
    )


def stretch_of_section(placed: PlacedSection) -> Stretch:
    """Return a section with all who sound in it; UsageError for a general pause and a free passage."""
    if placed.section.free is not None:
        raise UsageError(
            f"no cycle turns in {placed.name!r}: {left_open(placed.section)}",
            hint="Name a section with bars.",
        )
    if not placed.parts:
        raise UsageError(f"nobody sounds in {placed.name!r}", hint="Name a section in which somebody plays.")
    letter = placed.section.letter
    return Stretch(
        title=f"{letter} · {placed.name}" if letter else placed.name,
        parts=placed.parts,
        together=gathering(placed.parts, end_of_all=placed.end),
        meters=placed.section.meters,
        tempo=placed.section.tempo,
        start=placed.start,
        first_bar=placed.first_bar,
        bars=placed.bars,
        pickup=placed.section.pickup,
    )


def _period_in_bars(layers: Sequence[Layer], meters: Meters) -> int:
    """Return the bars up to the first meeting after the start at which the meters begin anew, too."""
    row = Layer(name="bars", cycle=meters.length)
    found = meetings([*layers, row])
    if found is None:
        raise UsageError(
            "these layers never meet where the meters begin anew",
            hint="Say how many bars to draw with --bars.",
        )
    whole = found.first or found.every
    bars = meters.bars_within(whole)
    if bars > _MOST_BARS:
        raise UsageError(
            f"these layers meet on a barline only after {bars} bars",
            hint="Say how many bars to draw with --bars.",
        )
    return bars


def last_bars(stretch: Stretch, bars: int) -> Stretch:
    """Return the last ``bars`` of it, cut where the list of meters begins anew, so that no meter moves."""
    row = len(stretch.meters.row)
    cut = (stretch.bars - min(bars, stretch.bars)) // row * row
    if cut == 0:
        return stretch
    start = stretch.barline(stretch.first_bar + cut)
    return replace(
        stretch,
        start=start,
        first_bar=stretch.first_bar + cut,
        bars=stretch.bars - cut,
        parts=tuple(_from(part, start) for part in stretch.parts),
    )


def _from(part: Part, start: Place) -> Part:
    """Return what of ``part`` lies after ``start``; one that comes in later, or left before, stays."""
    return replace(part, start=start, pickup=Length(0)) if part.start < start < part.end else part
