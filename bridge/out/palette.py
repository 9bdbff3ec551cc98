"""Colours that colour-blind readers can tell apart, and hatchings for those without colour.

The palette is Okabe and Ito's: "Color Universal Design (CUD): how to make figures and
presentations that are friendly to colorblind people", 2002, revised 2008; red, green and
blue in 0..255 as printed there.  Colour is never alone: each layer has its hatching too,
and its outline and marks are black.  This file knows nothing about layers.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.out.scene import Box, Paint, Path, Segment

__all__ = ["GREY", "HAIR", "INKS", "PALE", "Ink", "hatch", "ink", "mixed"]

GREY = "#595959"
HAIR = "#b8b8b8"
PALE = "#f2f2f0"

OKABE_ITO = {
    "orange": "#e69f00",
    "sky blue": "#56b4e9",
    "bluish green": "#009e73",
    "yellow": "#f0e442",
    "blue": "#0072b2",
    "vermillion": "#d55e00",
    "reddish purple": "#cc79a7",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """What tells one layer from the others: a colour and a hatching.

    ``slopes`` are the hatching's lines as rise over run, ``gap`` the distance between them.
    """

    colour: str
    slopes: tuple[float, ...]
    gap: float

    @property
    def tint(self) -> str:
        """The colour mixed with white, light enough for black marks on it."""
        return mixed(self.colour, 0.42)


_HATCHINGS = (
    ((1.0,), 5.0),
    ((), 5.0),
    ((-1.0,), 5.0),
    ((0.0,), 3.2),
    ((1.0, -1.0), 6.0),
    ((0.35,), 4.0),
    ((-2.0,), 4.5),
)
INKS = tuple(
    Ink(colour=OKABE_ITO[name], slopes=slopes, gap=gap)
    for name, (slopes, gap) in zip(
        ("sky blue", "orange", "bluish green", "reddish purple", "yellow", "vermillion", "blue"),
        _HATCHINGS,
        strict=True,
    )
)


def ink(index: int) -> Ink:
    """Return the ink of layer ``index``; from the eighth on the colours come again, hatched otherwise."""
    turn, place = divmod(index, len(INKS))
    slopes, gap = _HATCHINGS[(place + 2 * turn) % len(_HATCHINGS)]
    return Ink(colour=INKS[place].colour, slopes=slopes, gap=gap)


def mixed(colour: str, share: float) -> str:
    """Mix ``colour`` with white, of which 1 - ``share`` is taken."""
    parts = (int(colour[start : start + 2], 16) for start in (1, 3, 5))
    return "#" + "".join(f"{round(part * share + 255 * (1 - share)):02x}" for part in parts)


def hatch(box: Box, its: Ink) -> Path | None:
    """Return the hatching of ``box`` cut off at its edges, or None for an ink without one."""
    segments = [segment for slope in its.slopes for segment in _strokes(box, slope, its.gap)]
    if not segments:
        return None
    return Path(segments=tuple(segments), paint=Paint(stroke=mixed(its.colour, 0.85), thickness=0.5))


def _strokes(box: Box, slope: float, gap: float) -> list[Segment]:
    """Lines y = slope·x + c through the box; c in even steps from the page's corner, so that boxes join."""
    heights = [y - slope * x for x in (box.left, box.right) for y in (box.top, box.bottom)]
    step = gap * (1 + slope * slope) ** 0.5
    segments: list[Segment] = []
    number = int(min(heights) // step) + 1
    while number * step < max(heights):
        ends = _clipped(box, slope, number * step)
        if ends:
            segments += [("M", ends[0]), ("L", ends[1])]
        number += 1
    return segments


def _clipped(box: Box, slope: float, c: float) -> tuple[tuple[float, float], tuple[float, float]] | None:
    low, high = box.left, box.right
    if slope:
        across = sorted(((box.top - c) / slope, (box.bottom - c) / slope))
        low, high = max(low, across[0]), min(high, across[1])
    if high - low < 0.3:
        return None
    return (low, slope * low + c), (high, slope * high + c)
