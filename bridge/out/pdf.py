"""Scenes as a PDF, one a page, by fpdf2: fonts are embedded, text can be searched.

A letter that no face has is drawn as an empty box.  This file knows nothing
about music.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING

from bridge.out.scene import Box, Paint, Path, Rectangle, Scene, Shape, Text
from bridge.out.typeface import Face, Typeface

if TYPE_CHECKING:
    from fpdf import FPDF
    from fpdf.drawing import PaintedPath

__all__ = ["pdf"]

_FAMILY = "text"
_BASELINE_BELOW_MIDDLE = 0.3
"""Where fpdf2 sets the baseline of a cell without height, as a share of the size."""


def pdf(scenes: Sequence[Scene], faces: Typeface) -> bytes:
    """Return ``scenes`` (at least one) as the pages of a PDF file."""
    from fpdf import FPDF

    # fpdf2 warns of every letter without a glyph; what is missing is the caller's to report.
    logging.getLogger("fpdf").setLevel(logging.ERROR)
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    document = FPDF(unit="pt", format=(scenes[0].width, scenes[0].height))
    document.set_auto_page_break(False)
    document.set_margin(0)
    document.c_margin = 0
    document.set_title(scenes[0].title)
    document.set_creator("pulsebridge")
    _add_faces(document, scenes, faces)
    for scene in scenes:
        document.add_page(format=(scene.width, scene.height))
        for shape in scene.shapes:
            _draw(document, shape, faces)
    file = BytesIO()
    document.output(file)
    return file.getvalue()


def _add_faces(document: FPDF, scenes: Sequence[Scene], faces: Typeface) -> None:
    document.add_font(_FAMILY, "", faces.regular.path)
    document.add_font(_FAMILY, "B", faces.bold.path)
    texts = [text.text for scene in scenes for text in scene.texts]
    others: list[Face] = list(faces.needed(texts))
    for number, face in enumerate(others):
        document.add_font(f"other{number}", "", face.path)
    document.set_fallback_fonts([f"other{number}" for number in range(len(others))], exact_match=False)
    document.set_text_shaping(use_shaping_engine=True)


def _draw(document: FPDF, shape: Shape, faces: Typeface) -> None:
    if isinstance(shape, Text):
        _draw_text(document, shape, faces)
    elif isinstance(shape, Rectangle):
        box = shape.box
        with document.new_path() as path:
            _style(path, shape.paint)
            path.rectangle(box.left, box.top, box.width, box.height)
    else:
        _draw_path(document, shape)


def _draw_path(document: FPDF, shape: Path) -> None:
    with document.new_path() as path:
        _style(path, shape.paint)
        for command, values in shape.segments:
            if command == "M":
                path.move_to(*values)
            elif command == "L":
                path.line_to(*values)
            elif command == "C":
                path.curve_to(*values)
            else:
                path.close()


def _style(path: PaintedPath, paint: Paint) -> None:
    path.style.fill_color = paint.fill
    path.style.stroke_color = paint.stroke
    path.style.stroke_width = paint.thickness
    path.style.stroke_dash_pattern = list(paint.dash) or None
    path.style.auto_close = False


def _draw_text(document: FPDF, text: Text, faces: Typeface) -> None:
    red, green, blue = (int(text.colour[start : start + 2], 16) for start in (1, 3, 5))
    document.set_font(_FAMILY, "B" if text.bold else "", text.size)
    document.set_text_color(red, green, blue)
    if text.turned:
        with document.rotation(90, text.left, text.baseline):
            _pieces(document, text, faces)
    else:
        _pieces(document, text, faces)


def _pieces(document: FPDF, text: Text, faces: Typeface) -> None:
    """Draw the letters there are faces for, and an empty box for each of the others."""
    left = text.left
    for known, piece in faces.pieces(text.text, bold=text.bold):
        width = faces.width(piece, text.size, bold=text.bold)
        if known:
            # fpdf2 remembers a fallback face as if it were the one set last: say it again.
            document.current_font_is_set_on_page = False
            document.set_xy(left, text.baseline - text.size * _BASELINE_BELOW_MIDDLE)
            document.cell(w=width, h=0, text=piece)
        else:
            edge, high = text.size * 0.06, text.size * 0.66
            inside = Box(left + edge, text.baseline - high, width - 2 * edge, high)
            paint = Paint(stroke=text.colour, thickness=text.size * 0.06)
            _draw(document, Rectangle(box=inside, paint=paint), faces)
        left += width
