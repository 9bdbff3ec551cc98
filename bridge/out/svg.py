"""Scenes as SVG 1.1: text stays text, each line held to its measured width.

Source: W3C, Scalable Vector Graphics 1.1, Second Edition (2011).  A viewer without our
faces sets the text in its own; ``textLength`` keeps it inside its box all the same.
This file knows nothing about music.
"""

from __future__ import annotations

from xml.etree import ElementTree as Tree

from bridge.out.scene import Paint, Path, Rectangle, Scene, Shape, Text
from bridge.out.xml_text import xml_text

__all__ = ["svg"]

_NAMESPACE = "http://www.w3.org/2000/svg"
_FAMILY = (
    "'Fira Sans Condensed','Noto Sans','Noto Sans JP','Noto Sans Arabic','DejaVu Sans Condensed',sans-serif"
)


def svg(scene: Scene) -> bytes:
    """Return ``scene`` as an SVG file in UTF-8, sized in points."""
    root = Tree.Element(
        "svg",
        {
            "xmlns": _NAMESPACE,
            "width": f"{_number(scene.width)}pt",
            "height": f"{_number(scene.height)}pt",
            "viewBox": f"0 0 {_number(scene.width)} {_number(scene.height)}",
            "role": "img",
            "aria-labelledby": "title description",
            "font-family": _FAMILY,
        },
    )
    Tree.SubElement(root, "title", {"id": "title"}).text = xml_text(scene.title)
    Tree.SubElement(root, "desc", {"id": "description"}).text = xml_text(scene.description)
    whole = {"width": "100%", "height": "100%", "fill": "#ffffff"}
    Tree.SubElement(root, "rect", whole)
    for shape in scene.shapes:
        _add(root, shape)
    Tree.indent(root, " ")
    return bytes(Tree.tostring(root, encoding="utf-8", xml_declaration=True)) + b"\n"


def _add(root: Tree.Element, shape: Shape) -> None:
    if isinstance(shape, Rectangle):
        box = shape.box
        corners = {"x": box.left, "y": box.top, "width": box.width, "height": box.height}
        where = {name: _number(value) for name, value in corners.items()}
        Tree.SubElement(root, "rect", where | _paint(shape.paint))
    elif isinstance(shape, Path):
        Tree.SubElement(root, "path", {"d": _commands(shape)} | _paint(shape.paint))
    else:
        _add_text(root, shape)


def _add_text(root: Tree.Element, text: Text) -> None:
    x, y = _number(text.left), _number(text.baseline)
    settings = {"x": x, "y": y, "font-size": _number(text.size), "fill": text.colour}
    settings["xml:space"] = "preserve"
    if text.bold:
        settings["font-weight"] = "600"
    if text.turned:
        settings["transform"] = f"rotate(-90 {x} {y})"
    if len(text.text) > 1:
        settings |= {"textLength": _number(text.width), "lengthAdjust": "spacingAndGlyphs"}
    Tree.SubElement(root, "text", settings).text = xml_text(text.text)


def _paint(paint: Paint) -> dict[str, str]:
    settings = {"fill": paint.fill or "none"}
    if paint.stroke:
        settings |= {"stroke": paint.stroke, "stroke-width": _number(paint.thickness)}
        if paint.dash:
            settings["stroke-dasharray"] = " ".join(map(_number, paint.dash))
    return settings


def _commands(path: Path) -> str:
    return "".join(command + " ".join(map(_number, values)) for command, values in path.segments)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
