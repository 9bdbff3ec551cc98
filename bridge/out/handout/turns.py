"""One lane of a system: turn after turn, its home marked, counted, and counted down to the meeting.

This file knows nothing about the other lanes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from bridge.exact import Place
from bridge.out.handout.systems import System
from bridge.out.palette import Ink, hatch, ink, mixed
from bridge.out.scene import BLACK, WHITE, Box, Paint, Path, Rectangle, Segment, Shape, polyline
from bridge.out.typeface import Typeface
from bridge.song import Gathering, Part

__all__ = ["COUNTED_DOWN", "draw_turns"]

COUNTED_DOWN = 8
"""How many turns before a meeting are counted down."""
_WEDGE = 5.0
_SIZE = 9.0
_LEAST_SIZE = 4.5
_ACCENT = 0.38
"""How high an accent's mark is, as a share of the block."""
_BELOW = 20.0
"""Points: in a block this high a number has room below the wedge."""
_LEAST_TURN = 1.2
"""Points: narrower turns run into one another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """One turn: where it begins and ends, its number from 1, how many are left to a near meeting."""

    start: Place
    end: Place
    number: int
    to_go: int | None


def draw_turns(
    system: System, number: int, part: Part, together: Gathering | None, faces: Typeface
) -> list[Shape]:
    """Draw the turns of ``part`` that reach into ``system``, on its lane ``number``."""
    return [
        shape
        for stretch in part.stretches
        if stretch.start < system.end and stretch.end > system.start
        for shape in _draw_stretch(system, number, stretch, together, faces)
    ]


def _draw_stretch(
    system: System, number: int, part: Part, together: Gathering | None, faces: Typeface
) -> list[Shape]:
    band, its = system.lanes[number], ink(number)
    high = band.height * 0.8
    top = band.top + (band.height - high) / 2
    if float(part.layer.turn.whole_notes) * system.points_per_whole_note < _LEAST_TURN:
        left = system.x(max(part.start, system.start, key=_at))
        right = system.x(min(part.end, system.end, key=_at))
        return _too_short(Box(left, top, right - left, high), its, faces)
    shapes: list[Shape] = []
    wedges: list[Segment] = []
    numbers = _Numbers.of(system, part, high, faces)
    for turn in _turns(system, part, together):
        left = system.x(max(turn.start, system.start, key=_at))
        right = system.x(min(turn.end, system.end, key=_at))
        box = Box(left, top, right - left, high)
        shapes += _block(box, turn, its)
        if turn.start >= system.start:
            wedges += _wedge(left, top, min(_WEDGE, (right - left) * 0.6))
            shapes += _number(faces, box, turn, numbers)
    shapes += _accents(system, part, top, high)
    if wedges:
        shapes.append(Path(segments=tuple(wedges), paint=Paint(fill=BLACK)))
    return shapes


def _too_short(box: Box, its: Ink, faces: Typeface) -> list[Shape]:
    """Draw one block for turns that would run into one another, and say so."""
    hatching = hatch(box, its)
    shapes: list[Shape] = [Rectangle(box=box, paint=Paint(fill=its.tint))]
    shapes += [hatching] if hatching else []
    shapes.append(Rectangle(box=box, paint=Paint(stroke=BLACK, thickness=0.5)))
    size = min(_SIZE, box.height * 0.5)
    text = faces.set("turns too short to draw", (box.left + 6, box.bottom - box.height * 0.25), size)
    if text.width + 8 > box.width or size < _LEAST_SIZE:
        return shapes
    return [*shapes, Rectangle(box=text.box.inset(-1, size * 0.1), paint=Paint(fill=WHITE)), text]


def _turns(system: System, part: Part, together: Gathering | None) -> Iterator[_Turn]:
    layer = part.layer
    first = part.entry + layer.start
    done = max(0, (max(system.start, part.start, key=_at) - first) // layer.turn)
    start = first + layer.turn * done
    while start < min(system.end, part.end, key=_at):
        end = start + layer.turn
        to_go = _to_go(start, part, together)
        yield _Turn(start=start, end=min(end, part.end, key=_at), number=done + 1, to_go=to_go)
        start, done = end, done + 1


def _to_go(start: Place, part: Part, together: Gathering | None) -> int | None:
    """Return how many turns are left to the meeting: counted in the last few, half the way at most."""
    if together is None:
        return None
    turn = part.layer.turn
    all_turns = together.every // turn
    meeting = together.at_or_after(start)
    if meeting is None or (together.until is not None and meeting > part.end):
        return None
    left = (meeting - start) // turn or all_turns
    return left if left <= min(COUNTED_DOWN, all_turns // 2) else None


def _block(box: Box, turn: _Turn, its: Ink) -> list[Shape]:
    """Fill every second turn; towards a meeting all of them, ever darker."""
    shapes: list[Shape] = []
    if turn.to_go is not None:
        share = 0.30 + 0.45 * (COUNTED_DOWN - turn.to_go) / (COUNTED_DOWN - 1)
        shapes.append(Rectangle(box=box, paint=Paint(fill=mixed(its.colour, share))))
    elif turn.number % 2:
        shapes.append(Rectangle(box=box, paint=Paint(fill=its.tint)))
        hatching = hatch(box, its)
        if hatching:
            shapes.append(hatching)
    shapes.append(Rectangle(box=box, paint=Paint(stroke=BLACK, thickness=0.5)))
    return shapes


def _wedge(x: float, top: float, size: float) -> list[Segment]:
    return [("M", (x, top)), ("L", (x + size, top)), ("L", (x, top + size * 1.5)), ("Z", ())]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Numbers:
    """How the turns of one lane are numbered: in one size, at one place within the turn."""

    size: float
    inset: float
    rise: float
    """From the lower edge to the baseline."""

    @classmethod
    def of(cls, system: System, part: Part, high: float, faces: Typeface) -> _Numbers:
        """Choose the size in which the highest number of the part fits into a turn.

        Above the accents, beside the wedge; without accents below the wedge, where there is room.
        """
        accented = _shows_accents(system, part)
        below = high >= _BELOW and not accented
        inset = 2.5 if below else _WEDGE + 1.5
        last = max(1, (part.end - part.entry) // part.layer.turn + 1)
        widest = faces.width("8" * len(str(last)), 1.0)
        room = float(part.layer.turn.whole_notes) * system.points_per_whole_note - inset - 1.5
        size = min(_SIZE, high * (0.42 if accented else 0.5), room / widest)
        return cls(size=size, inset=inset, rise=high * (_ACCENT + 0.06 if accented else 0.2))


def _number(faces: Typeface, box: Box, turn: _Turn, its: _Numbers) -> list[Shape]:
    if its.size < _LEAST_SIZE:
        return []
    near = turn.to_go is not None
    words = f"−{turn.to_go}" if near else str(turn.number)
    text = faces.set(words, (box.left + its.inset, box.bottom - its.rise), its.size, bold=near)
    if text.box.right > box.right:
        return []
    return [Rectangle(box=text.box.inset(-0.7, its.size * 0.1), paint=Paint(fill=WHITE)), text]


def _accents(system: System, part: Part, top: float, high: float) -> list[Shape]:
    """Mark the accents within the turns as upright bars from the lower edge, homes left out."""
    if not _shows_accents(system, part):
        return []
    paint = Paint(stroke=BLACK, thickness=1.6)
    shapes: list[Shape] = []
    for row in (row for row in part.rows() if not row.home):
        for place in row.places():
            if system.start <= place < system.end:
                x = system.x(place)
                shapes.append(polyline([(x, top + high), (x, top + high * (1 - _ACCENT))], paint))
    return shapes


def _shows_accents(system: System, part: Part) -> bool:
    points = float(part.layer.turn.whole_notes) * system.points_per_whole_note
    return any(part.layer.accents) and points / len(part.layer.accents) >= 3


def _at(place: Place) -> Fraction:
    return place.whole_notes
