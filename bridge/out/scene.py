"""A drawing as a value: shapes and text with measured boxes, front-most last.

Unit: the point (1/72 inch); x grows to the right and y downwards from the page's upper
left corner.  Writers turn a scene into SVG, PDF and PNG; this file knows nothing about
them, nor about music.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = [
    "BLACK",
    "WHITE",
    "Box",
    "Paint",
    "Path",
    "Point",
    "Rectangle",
    "Scene",
    "Segment",
    "Shape",
    "Text",
    "line",
    "polyline",
]

BLACK = "#1a1a1a"
WHITE = "#ffffff"

_ASCENT = 0.76
_DESCENT = 0.24
"""How far letters reach above and below the baseline, as a share of the size; accents included."""

Point = tuple[float, float]
Segment = tuple[str, tuple[float, ...]]


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle on the page."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The x of its right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """The y of its lower edge."""
        return self.top + self.height

    def overlaps(self, other: Box, *, by: float = 0.0) -> bool:
        """Whether the two share more than ``by`` points in both directions."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > by and down > by

    def holds(self, other: Box, *, slack: float = 0.0) -> bool:
        """Whether ``other`` lies inside, up to ``slack`` points."""
        return (
            other.left >= self.left - slack
            and other.right <= self.right + slack
            and other.top >= self.top - slack
            and other.bottom <= self.bottom + slack
        )

    def inset(self, across: float, down: float = 0.0) -> Box:
        """Return the box made narrower by ``across`` and lower by ``down`` on each side."""
        return Box(self.left + across, self.top + down, self.width - 2 * across, self.height - 2 * down)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """How a shape is drawn: colours as ``#rrggbb``, None for not at all."""

    fill: str | None = None
    stroke: str | None = None
    thickness: float = 0.6
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """An upright rectangle."""

    box: Box
    paint: Paint


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """Lines and curves: segments ``M x y``, ``L x y``, ``C x1 y1 x2 y2 x y`` and ``Z``."""

    segments: tuple[Segment, ...]
    paint: Paint


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One line of text from ``left`` on its ``baseline``, as wide as it was measured.

    ``turned`` text reads upwards: then ``left`` and ``baseline`` are where its first letter
    stands, its baseline running up the page.
    """

    text: str
    left: float
    baseline: float
    size: float
    width: float
    bold: bool = False
    turned: bool = False
    colour: str = BLACK

    @property
    def box(self) -> Box:
        """The space it takes on the page."""
        high = self.size * (_ASCENT + _DESCENT)
        if self.turned:
            return Box(self.left - self.size * _ASCENT, self.baseline - self.width, high, self.width)
        return Box(self.left, self.baseline - self.size * _ASCENT, self.width, high)


Shape = Rectangle | Path | Text


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One page: its size, what is on it, and a title and description for those who cannot see it."""

    width: float
    height: float
    title: str
    description: str
    shapes: tuple[Shape, ...]

    @property
    def texts(self) -> tuple[Text, ...]:
        """Every text on the page, in drawing order."""
        return tuple(shape for shape in self.shapes if isinstance(shape, Text))


def polyline(points: Iterable[Point], paint: Paint, *, closed: bool = False) -> Path:
    """Join ``points`` by straight lines."""
    segments: list[Segment] = [("L", point) for point in points]
    segments[0] = ("M", segments[0][1])
    if closed:
        segments.append(("Z", ()))
    return Path(segments=tuple(segments), paint=paint)


def line(start: Point, end: Point, paint: Paint) -> Path:
    """Draw one straight line."""
    return polyline((start, end), paint)
