"""The sheet that every band of the picture is drawn on: its size, its scale, where bands lie.

Sizes in points on an A4 page, landscape.  This file draws nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.exact import Length, Place, seconds_of, show_seconds
from bridge.out.scene import Box
from bridge.out.typeface import Typeface
from bridge.song import PlacedSection, Song

__all__ = ["HEIGHT", "MARGIN", "WIDTH", "Bands", "Sheet", "lasting", "span_seconds"]

WIDTH, HEIGHT = 841.89, 595.28
MARGIN = 30.0
_LABELS = 112.0
_RIGHT = 40.0
_TITLE = 44.0
_CALLOUT, _ANSWER, _MEETING, _TEMPO, _RULERS = 12.0, 15.0, 18.0, 12.0, 27.0
_LANE = (3.0, 42.0)
_ENERGY = (36.0, 160.0)
_GAP = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bands:
    """Where each band lies, from the top: every box is as wide as the plot."""

    callouts: Box
    heads: Box
    answers: Box
    energy: Box
    lanes: tuple[Box, ...]
    meetings: Box
    tempi: Box
    rulers: Box
    key: Box

    @classmethod
    def stacked(
        cls, *, callouts: int, heads: float, answers: int, energy: bool, lanes: int, key: float
    ) -> Bands:
        """Share out the page's height; lanes and energy take what the others leave."""
        left, width = MARGIN + _LABELS, WIDTH - MARGIN - _LABELS - _RIGHT
        fixed = callouts * _CALLOUT + heads + answers * _ANSWER + _MEETING + _TEMPO + _RULERS + key
        room = HEIGHT - 2 * MARGIN - _TITLE - fixed - 5 * _GAP
        least, most = _ENERGY if energy else (0.0, 0.0)
        lane = min(_LANE[1], max(_LANE[0], (room - least) * 0.72 / max(lanes, 1)))
        curve = min(most, max(least, room - lane * lanes))
        top = MARGIN + _TITLE
        tops = []
        heights = [
            callouts * _CALLOUT,
            heads,
            answers * _ANSWER + _GAP,
            curve + 2 * _GAP,
            *[lane] * lanes,
            _MEETING,
            _TEMPO + _GAP,
            _RULERS,
        ]
        for high in heights:
            tops.append(Box(left, top, width, high))
            top += high
        boxes, rest = tops[:4], tops[4:]
        return cls(
            callouts=boxes[0],
            heads=boxes[1],
            answers=boxes[2].inset(0, _GAP / 2),
            energy=boxes[3].inset(0, _GAP),
            lanes=tuple(rest[:lanes]),
            meetings=rest[lanes],
            tempi=rest[lanes + 1],
            rulers=rest[lanes + 2],
            key=Box(MARGIN, HEIGHT - MARGIN - key, WIDTH - 2 * MARGIN, key),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A song, the faces it is set in, and the bands to draw in."""

    song: Song
    faces: Typeface
    bands: Bands

    @property
    def left(self) -> float:
        """The x of the song's start."""
        return self.bands.energy.left

    @property
    def right(self) -> float:
        """The x of the song's End."""
        return self.bands.energy.right

    @property
    def plot(self) -> Box:
        """All that stands to scale in time: from the heads down to the meetings."""
        top = self.bands.heads.top
        return Box(self.left, top, self.right - self.left, self.bands.meetings.bottom - top)

    def x(self, place: Place) -> float:
        """Return the x of ``place``, to scale in seconds."""
        return self.x_at(float(self.song.seconds(place)))

    def x_at(self, seconds: float) -> float:
        """Return the x of ``seconds`` after the song's start."""
        return self.left + seconds / float(self.song.total_seconds) * (self.right - self.left)

    def span(self, placed: PlacedSection) -> tuple[float, float]:
        """Return the x of a section's start and of its end."""
        return self.x(placed.start), self.x(placed.end)

    def points_per(self, length: Length, placed: PlacedSection) -> float:
        """Return how many points ``length`` takes within ``placed``, on average under a ramp."""
        start, end = self.span(placed)
        return float((length / placed.length).value) * (end - start)


def span_seconds(placed: PlacedSection) -> float:
    """Return how long a section lasts, in seconds."""
    return float(seconds_of(placed.length, placed.section.tempo))


def lasting(placed: PlacedSection) -> str:
    """Say how long a section lasts, to the second: hundredths are no help on a wall."""
    return show_seconds(seconds_of(placed.length, placed.section.tempo)).split(".")[0]
