"""Scenes as files by their ending, and what should be said about them.

The one place that knows which endings a picture can have.  This file knows nothing about
what a picture shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bridge.out.endings import known_ending
from bridge.out.request import Written
from bridge.out.scene import Scene
from bridge.out.typeface import Typeface

__all__ = ["PICTURES", "picture", "picture_ending", "told"]

PICTURES = (".svg", ".png", ".pdf")


def picture_ending(path: Path) -> str:
    """Return the ending of ``path`` in lower case; UsageError where no picture has it."""
    return known_ending(path, PICTURES, what="A picture")


def picture(scene: Scene, ending: str, faces: Typeface, *, dots_per_inch: int = 200) -> bytes:
    """Return ``scene`` as the file that ``ending`` names."""
    if ending == ".svg":
        from bridge.out.svg import svg

        return svg(scene)
    if ending == ".pdf":
        from bridge.out.pdf import pdf

        return pdf([scene], faces)
    from bridge.out.png import png

    return png(scene, faces, dots_per_inch=dots_per_inch)


def told(scenes: Sequence[Scene], faces: Typeface, *, boxed: bool = True) -> Written:
    """Say which letters of ``scenes`` no font has: ``boxed`` where a box is drawn for them."""
    missing = faces.missing("".join(text.text for scene in scenes for text in scene.texts))
    if not missing:
        return Written(facts={"missing_letters": ""})
    drawn = "drawn as boxes" if boxed else "left to the viewer's fonts"
    note = f"no font here has {' '.join(missing)}: {drawn}; 'draw --font FILE' adds one that does"
    if any(_is_japanese(letter) for letter in missing):
        note += ", and the extra 'japanese' has Japanese letters"
    return Written(facts={"missing_letters": missing}, notes=(note,))


def _is_japanese(letter: str) -> bool:
    """Tell kana and ideographs, by their blocks in Unicode."""
    return "\u3040" <= letter <= "\u30ff" or "\u4e00" <= letter <= "\u9fff"
