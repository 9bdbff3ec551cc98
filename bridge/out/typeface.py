"""Faces for drawn text, and its measure: which font has a letter, how wide a line will be.

The faces come from wheels: Fira Sans Condensed for the text, then the
Noto faces for other scripts and emoji, a Japanese face where one is installed, and what
the user names.  Widths are shaped by HarfBuzz, so that joined scripts measure as drawn.
A letter that no face has counts as missing: the writers of PNG and PDF draw a box for it.
This file knows nothing about pictures or music.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path
from typing import Any

from bridge.errors import UsageError
from bridge.out.scene import BLACK, Text

__all__ = ["Face", "Typeface"]

_NEEDED = ("uharfbuzz", "fpdf", "pypdfium2", "PIL")
_FIRA = "fontpkg_fira_sans_condensed"
_REGULAR = (_FIRA, "files/FiraSansCondensed-Regular.ttf")
_BOLD = (_FIRA, "files/FiraSansCondensed-SemiBold.ttf")
_SCRIPTS = (
    "Arabic", "Hebrew", "Devanagari", "Thai", "Armenian", "Georgian", "Bengali", "Tamil", "Telugu",
    "Kannada", "Malayalam", "Gujarati", "Gurmukhi", "Oriya", "Sinhala", "Khmer", "Lao", "Myanmar",
    "Ethiopic", "Symbols",
)  # fmt: skip
_OTHERS = (
    ("manimgx_fonts", "NotoSans[wght].ttf"),
    *(("manimgx_fonts", f"NotoSans{script}[wght].ttf") for script in _SCRIPTS),
    ("manimgx_fonts", "NotoEmoji[wght].ttf"),
    ("pylopdf_fonts_jp", "NotoSansJP-Regular.otf"),
)
_UNDRAWN = dict.fromkeys((0xFE0E, 0xFE0F, 0x200B, 0x2060, 0xFEFF))
"""Selectors and spaces without a shape of their own: no face is asked for them."""
_BOX = 0.6
"""How wide the box for a missing letter is, as a share of the size."""
_ELLIPSIS = "…"


@dataclass(frozen=True)
class Face:
    """One font file, opened when it is first needed."""

    path: Path

    @cached_property
    def letters(self) -> frozenset[int]:
        """The code points it has a glyph for."""
        return frozenset(self._face.unicodes)

    def width(self, text: str) -> float:
        """Return how wide ``text`` is, as a share of the size it is set in."""
        import uharfbuzz

        buffer = uharfbuzz.Buffer()
        buffer.add_str(text)
        buffer.guess_segment_properties()
        uharfbuzz.shape(self._font, buffer)
        advance = sum(position.x_advance for position in buffer.glyph_positions or ())
        return float(advance) / float(self._face.upem)

    @cached_property
    def _face(self) -> Any:
        import uharfbuzz

        face = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(self.path)))
        if not face.glyph_count:
            raise UsageError(
                f"{str(self.path)!r} is no font",
                hint="Give a TrueType or OpenType file (.ttf, .otf).",
            )
        return face

    @cached_property
    def _font(self) -> Any:
        import uharfbuzz

        return uharfbuzz.Font(self._face)


@dataclass(frozen=True)
class Typeface:
    """The faces a drawing is set in: the text's two, and where to look for other letters."""

    regular: Face
    bold: Face
    others: tuple[Face, ...] = ()
    _widths: dict[tuple[str, bool], float] = field(default_factory=dict, compare=False, repr=False)

    @classmethod
    def installed(cls, fonts: Sequence[Path] = ()) -> Typeface:
        """Find the faces that came with us; ``fonts`` are asked first for other letters.

        UsageError where the installation lacks them, or when one of ``fonts`` cannot be read.
        """
        regular, bold = _found(*_REGULAR), _found(*_BOLD)
        if regular is None or bold is None or not all(map(find_spec, _NEEDED)):
            raise UsageError(
                f"drawing needs packages that are missing here: {', '.join(_missing_packages())}",
                hint="They come with pulsebridge: install it again, with its dependencies.",
            )
        named = tuple(_readable(path) for path in fonts)
        others = tuple(face for where in _OTHERS if (face := _found(*where)))
        return cls(regular, bold, named + others)

    def width(self, text: str, size: float, *, bold: bool = False) -> float:
        """Return the width of ``text`` in points."""
        key = (text, bold)
        if key not in self._widths:
            runs = self._runs(text, bold)
            self._widths[key] = sum(face.width(part) if face else _BOX * len(part) for face, part in runs)
        return self._widths[key] * size

    def missing(self, text: str) -> str:
        """Return the letters of ``text`` that no face has, each once, in order."""
        letters = dict.fromkeys(text.translate(_UNDRAWN))
        return "".join(letter for letter in letters if self._face_of(ord(letter), False) is None)

    def needed(self, texts: Iterable[str]) -> tuple[Face, ...]:
        """Return the other faces that ``texts`` call for, in the order in which they are asked."""
        letters = {ord(letter) for text in texts for letter in text}
        faces = {self._face_of(letter, False) for letter in letters}
        return tuple(face for face in self.others if face in faces)

    def pieces(self, text: str, *, bold: bool = False) -> list[tuple[bool, str]]:
        """Split ``text`` into what can be drawn (True) and single letters that no face has (False).

        Code points without a shape of their own are left out.
        """
        runs = groupby(self._runs(text, bold), lambda run: run[0] is not None)
        whole = [(known, "".join(part for _, part in run)) for known, run in runs]
        return [(known, piece) for known, part in whole for piece in ([part] if known else list(part))]

    def shorten(self, text: str, size: float, room: float, *, bold: bool = False) -> str:
        """Return ``text``, or as much of its beginning as fits into ``room`` with an ellipsis.

        Empty when not even one letter and the ellipsis fit.
        """
        if self.width(text, size, bold=bold) <= room:
            return text
        low, high = 0, len(text)
        while low < high:
            middle = (low + high + 1) // 2
            if self.width(text[:middle].rstrip() + _ELLIPSIS, size, bold=bold) <= room:
                low = middle
            else:
                high = middle - 1
        kept = text[:low].rstrip()
        return kept + _ELLIPSIS if kept else ""

    def set(
        self,
        text: str,
        at: tuple[float, float],
        size: float,
        *,
        share: float = 0.0,
        bold: bool = False,
        turned: bool = False,
        colour: str = BLACK,
    ) -> Text:
        """Set ``text`` with its point ``share`` (0 start, 1/2 middle, 1 end) on ``at``."""
        width = self.width(text, size, bold=bold)
        left, baseline = at
        if turned:
            baseline += width * share
        else:
            left -= width * share
        return Text(
            text=text, left=left, baseline=baseline, size=size, width=width,
            bold=bold, turned=turned, colour=colour,
        )  # fmt: skip

    def _runs(self, text: str, bold: bool) -> list[tuple[Face | None, str]]:
        faces = [(self._face_of(ord(letter), bold), letter) for letter in text.translate(_UNDRAWN)]
        return [
            (face, "".join(letter for _, letter in run)) for face, run in groupby(faces, lambda pair: pair[0])
        ]

    def _face_of(self, letter: int, bold: bool) -> Face | None:
        main = self.bold if bold else self.regular
        if letter in main.letters or letter in _UNDRAWN:
            return main
        return next((face for face in self.others if letter in face.letters), None)


@lru_cache(maxsize=64)
def _missing_packages() -> list[str]:
    return [name for name in (*_NEEDED, _FIRA) if find_spec(name) is None]


def _found(package: str, name: str) -> Face | None:
    spec = find_spec(package)
    for folder in (spec.submodule_search_locations or ()) if spec else ():
        path = Path(folder) / name
        if path.is_file():
            return Face(path)
    return None


def _readable(path: Path) -> Face:
    try:
        with path.open("rb") as file:
            file.read(1)
    except OSError as error:
        raise UsageError(f"the font {str(path)!r} cannot be read: {error.strerror or error}") from None
    face = Face(path)
    _ = face.letters
    return face
