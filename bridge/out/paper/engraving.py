"""Music engraved by Verovio (extra ``score``), as shapes of a scene.

Verovio draws SVG out of few kinds of element, moved and scaled but never turned; those are
read here and nothing else is.  Source: SVG 1.1, second edition (W3C 2011), chapter 8 on
path data.  This file knows nothing about songs.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from xml.etree import ElementTree

from bridge.errors import InternalError
from bridge.out.scene import BLACK, Paint, Path, Point, Segment, Shape

__all__ = ["Engraving", "can_engrave", "engraved"]

_SVG = "{http://www.w3.org/2000/svg}"
_LINK = "{http://www.w3.org/1999/xlink}href"
_SPACE_UNITS = 180.0
"""The distance between staff lines in Verovio's drawing."""
_OPTIONS = {
    "breaks": "none",
    "header": "none",
    "footer": "none",
    "adjustPageHeight": True,
    "adjustPageWidth": True,
    "pageMarginLeft": 0,
    "pageMarginRight": 0,
    "pageMarginTop": 20,
    "pageMarginBottom": 20,
    "xmlIdSeed": 1,
}
_TOKEN = re.compile(r"[A-Za-z]|-?(?:[0-9]*\.[0-9]+|[0-9]+)")
_TRANSFORM = re.compile(r"(translate|scale)\(\s*(-?[0-9.]+)(?:[ ,]+(-?[0-9.]+))?\s*\)")
_ROUND = 0.5523
"""How far a quarter circle's control points stand from its ends, as a share of the radius."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Engraving:
    """Music with its upper left corner at 0, 0."""

    shapes: tuple[Path, ...]
    width: float
    height: float

    def at(self, left: float, top: float, *, scale: float = 1.0) -> list[Shape]:
        """Return the shapes moved to ``left``, ``top`` and scaled."""
        view = _View(scale, scale, left, top)
        return [
            Path(
                segments=tuple((command, view.all(values)) for command, values in shape.segments),
                paint=Paint(
                    fill=shape.paint.fill,
                    stroke=shape.paint.stroke,
                    thickness=shape.paint.thickness * scale,
                ),
            )
            for shape in self.shapes
        ]


@dataclass(frozen=True, slots=True)
class _View:
    """Scaled by ``across`` and ``down``, then moved by ``right`` and ``below``."""

    across: float = 1.0
    down: float = 1.0
    right: float = 0.0
    below: float = 0.0

    def all(self, values: tuple[float, ...]) -> tuple[float, ...]:
        """Return x and y in turn, seen so."""
        return tuple(
            value * self.down + self.below if index % 2 else value * self.across + self.right
            for index, value in enumerate(values)
        )

    def then(self, transform: str | None) -> _View:
        """Return the view inside an element with that ``transform``."""
        view = self
        for kind, first, second in _TRANSFORM.findall(transform or ""):
            x, y = float(first), float(second or (first if kind == "scale" else 0))
            if kind == "translate":
                view = _View(view.across, view.down, view.right + view.across * x, view.below + view.down * y)
            else:
                view = _View(view.across * x, view.down * y, view.right, view.below)
        return view


def can_engrave() -> bool:
    """Tell whether the extra ``score`` is installed."""
    return find_spec("verovio") is not None


def engraved(musicxml: bytes, *, space: float) -> Engraving:
    """Engrave a score on one system; ``space`` is the distance of staff lines in points.

    InternalError when Verovio cannot read what we wrote.
    """
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(_OPTIONS)
    if not toolkit.loadData(musicxml.decode()):
        raise InternalError("the engraver cannot read the score")
    root = ElementTree.fromstring(toolkit.renderToSVG(1))  # noqa: S314  drawn here, from our own score
    drawing = root.find(f"{_SVG}svg")
    if drawing is None:
        raise InternalError("the engraver drew nothing")
    _, _, width, height = (float(part) for part in drawing.get("viewBox", "0 0 0 0").split())
    glyphs = {f"#{group.get('id')}": group for group in root.iter(f"{_SVG}g") if group.get("id")}
    factor = space / _SPACE_UNITS
    shapes = tuple(_shapes(drawing, _View(factor, factor), glyphs))
    return Engraving(shapes=shapes, width=width * factor, height=height * factor)


def _shapes(
    element: ElementTree.Element, view: _View, glyphs: dict[str, ElementTree.Element]
) -> Iterator[Path]:
    for child in element:
        inside = view.then(child.get("transform"))
        kind = child.tag.removeprefix(_SVG)
        if "Milestone" in child.get("class", "") or "placeholder" in child.get("class", ""):
            continue  # marks of the engraver's own, not meant to be seen
        if kind == "g":
            yield from _shapes(child, inside, glyphs)
        elif kind == "use":
            yield from _shapes(glyphs[child.get(_LINK, "")], inside, glyphs)
        elif segments := _segments(kind, child):
            yield _seen(segments, inside, child)


def _segments(kind: str, child: ElementTree.Element) -> list[Segment]:
    if kind == "path":
        return _path(child.get("d", ""))
    if kind == "polygon":
        points = [float(value) for value in _TOKEN.findall(child.get("points", ""))]
        corners = list(zip(points[::2], points[1::2], strict=True))
        return [("M", corners[0]), *(("L", corner) for corner in corners[1:]), ("Z", ())]
    if kind == "ellipse":
        return _ellipse(*(float(child.get(name, "0")) for name in ("cx", "cy", "rx", "ry")))
    return []


def _seen(segments: list[Segment], view: _View, child: ElementTree.Element) -> Path:
    thickness = float(child.get("stroke-width", "0")) * abs(view.across)
    curved = any(command in "CZ" for command, _ in segments)
    filled = curved and child.get("fill") != "none"
    return Path(
        segments=tuple((command, view.all(values)) for command, values in segments),
        paint=Paint(fill=BLACK if filled else None, stroke=BLACK if thickness else None, thickness=thickness),
    )


def _path(data: str) -> list[Segment]:
    """Read path data with the commands that Verovio uses, all made absolute."""
    tokens = _TOKEN.findall(data)
    reader = _PathReader()
    index = 0
    while index < len(tokens):
        command = tokens[index]
        index += 1
        count = _ARGUMENTS[command.upper()]
        reader.take(command, tuple(float(token) for token in tokens[index : index + count]))
        index += count
        while count and index < len(tokens) and not tokens[index].isalpha():
            again = {"M": "L", "m": "l"}.get(command, command)
            reader.take(again, tuple(float(token) for token in tokens[index : index + count]))
            index += count
    return reader.segments


_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Z": 0}


class _PathReader:
    """Where the pen stands, and what it has drawn so far."""

    def __init__(self) -> None:
        self.segments: list[Segment] = []
        self._at: Point = (0.0, 0.0)
        self._start: Point = (0.0, 0.0)
        self._control: Point | None = None

    def take(self, command: str, values: tuple[float, ...]) -> None:
        """Draw one command."""
        kind = command.upper()
        x, y = self._at if command.islower() else (0.0, 0.0)
        control = None
        if kind == "Z":
            self.segments.append(("Z", ()))
            self._at = self._start
        elif kind in "HV":
            here = self._at
            self._line((x + values[0], here[1]) if kind == "H" else (here[0], y + values[0]))
        else:
            points = tuple(value + (y if index % 2 else x) for index, value in enumerate(values))
            control = self._points(kind, points)
        self._control = control

    def _points(self, kind: str, points: tuple[float, ...]) -> Point | None:
        if kind in "ML":
            self._line((points[0], points[1]), moved=kind == "M")
            return None
        if kind == "S":
            first = self._control or self._at
            points = (2 * self._at[0] - first[0], 2 * self._at[1] - first[1], *points)
        self.segments.append(("C", points))
        self._at = points[4], points[5]
        return points[2], points[3]

    def _line(self, to: Point, *, moved: bool = False) -> None:
        self.segments.append(("M" if moved else "L", to))
        self._at = to
        if moved:
            self._start = to


def _ellipse(x: float, y: float, across: float, down: float) -> list[Segment]:
    a, b = across * _ROUND, down * _ROUND
    return [
        ("M", (x + across, y)),
        ("C", (x + across, y + b, x + a, y + down, x, y + down)),
        ("C", (x - a, y + down, x - across, y + b, x - across, y)),
        ("C", (x - across, y - b, x - a, y - down, x, y - down)),
        ("C", (x + a, y - down, x + across, y - b, x + across, y)),
        ("Z", ()),
    ]
