"""What the writers of SVG, PDF and PNG keep to: measured boxes, text to search, boxes for missing letters."""

from __future__ import annotations

import os
import shutil
import subprocess
from importlib.util import find_spec
from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from PIL import Image

from bridge.errors import UsageError
from bridge.out.palette import INKS, ink
from bridge.out.pdf import pdf
from bridge.out.pictures import told
from bridge.out.png import png
from bridge.out.scene import Box, Paint, Rectangle, Scene, Text, polyline
from bridge.out.svg import svg
from bridge.out.typeface import Typeface

FACES = Typeface.installed()
NOBODYS = "\u0378"  # no character is assigned here, so no font has a letter for it


def scene_of(*shapes) -> Scene:
    return Scene(width=300, height=200, title="A title", description="What it shows", shapes=shapes)


def ink_box(scene: Scene) -> tuple[float, float, float, float]:
    """Where anything is drawn, in points."""
    image = Image.open(BytesIO(png(scene, FACES, dots_per_inch=288))).convert("L")
    left, top, right, bottom = image.point(lambda level: 255 if level < 160 else 0).getbbox()
    return left / 4, top / 4, right / 4, bottom / 4


def poppler(tool: str) -> str:
    found = shutil.which(tool)
    if found is None:
        assert not os.environ.get("PULSEBRIDGE_CI"), f"{tool} is missing (Debian: poppler-utils)"
        pytest.skip(f"{tool} is not installed (Debian: poppler-utils)")
    return found


def read_pdf(content: bytes, tool: str, *options: str) -> str:
    files = ["-", "-"] if tool == "pdftotext" else ["-"]
    done = subprocess.run([poppler(tool), *options, *files], input=content, capture_output=True, check=True)
    return done.stdout.decode()


TEXTS = ("Landfall 7/8", "ÅÂg", "مد وجزر", "𝄞x", "♩ = 115.2", "🌊 swell", "潮")


@pytest.fixture(scope="module")
def drawn() -> dict[bool, Image.Image]:
    """All TEXTS, each in a square of 150 points of its own, flat and turned, at 4 dots a point."""
    found = {}
    for turned in (False, True):
        shapes = tuple(_in_square(row, turned) for row in range(len(TEXTS)))
        scene = Scene(width=150, height=150 * len(TEXTS), title="t", description="d", shapes=shapes)
        image = Image.open(BytesIO(png(scene, FACES, dots_per_inch=288))).convert("L")
        found[turned] = image.point(lambda level: 255 if level < 160 else 0)
    return found


def _in_square(row: int, turned: bool) -> Text:
    return FACES.set(TEXTS[row], (75, 150 * row + 75), 20, share=0.5, turned=turned)


@pytest.mark.parametrize("turned", [False, True], ids=["flat", "turned"])
@pytest.mark.parametrize("row", range(len(TEXTS)))
def test_a_text_is_drawn_inside_the_box_it_was_measured_for(row, turned, drawn):
    box = _in_square(row, turned).box
    pixels = drawn[turned].crop((0, 600 * row, 600, 600 * (row + 1))).getbbox()
    left, top, right, bottom = (at / 4 + 150 * row * (number % 2) for number, at in enumerate(pixels))
    along, over = 1.0, 4.2  # a ring on a capital reaches 0.2 of the size above the box
    across, down = (over, along) if turned else (along, over)
    assert box.left - across <= left
    assert right <= box.right + across
    assert box.top - down <= top
    assert bottom <= box.bottom + down
    assert (bottom - top if turned else right - left) > 0.7 * (box.height if turned else box.width)


def test_a_text_after_one_in_another_script_is_still_the_text():
    texts = ["♩ = 120", "7/8", "🌊", "17", "潮", "4/4"]
    shapes = [FACES.set(text, (20, 20 + 20 * row), 8) for row, text in enumerate(texts)]
    shown = read_pdf(pdf([scene_of(*shapes)], FACES), "pdftotext")
    assert [line for line in shown.split() if line in ("7/8", "17", "4/4")] == ["7/8", "17", "4/4"]


def test_a_letter_that_no_font_has_is_a_box_and_is_told():
    shape = FACES.set(NOBODYS, (100, 100), 20)
    assert FACES.missing(f"a{NOBODYS}b{NOBODYS}") == NOBODYS
    left, top, right, bottom = ink_box(scene_of(shape))
    assert 8 < right - left < 12
    assert 10 < bottom - top < 15
    image = Image.open(BytesIO(png(scene_of(shape), FACES, dots_per_inch=288))).convert("L")
    assert image.getpixel((round((left + right) * 2), round((top + bottom) * 2))) == 255  # hollow


def test_selectors_without_a_shape_are_not_missing():
    assert FACES.missing("a\ufe0f\u200b") == ""


@pytest.mark.parametrize("room", [0, 5, 12, 40, 90, 300])
def test_a_shortened_text_fits_and_says_so(room):
    whole = "A name that is long"
    short = FACES.shorten(whole, 9, room)
    assert FACES.width(short, 9) <= room
    assert short in ("", whole) or (short.endswith("…") and whole.startswith(short[:-1]))


def test_svg_is_well_formed_names_itself_and_holds_every_text_to_its_width():
    shape = FACES.set("Ebb & <Flow> \x01", (10, 20), 10)
    root = ElementTree.fromstring(svg(scene_of(shape)))
    space = "{http://www.w3.org/2000/svg}"
    assert root.find(f"{space}title").text == "A title"
    assert root.find(f"{space}desc").text == "What it shows"
    (text,) = root.iter(f"{space}text")
    assert text.text == "Ebb & <Flow> "
    assert text.get("{http://www.w3.org/XML/1998/namespace}space") == "preserve"
    assert float(text.get("textLength")) == pytest.approx(shape.width, abs=0.01)


def test_svg_asks_for_nothing_from_outside():
    content = svg(scene_of(FACES.set("x", (1, 9), 9))).decode()
    assert content.count("http") == 1  # the namespace
    assert "href" not in content


def test_pdf_pages_have_the_scene_s_size_and_hold_the_text():
    pages = [scene_of(FACES.set("first", (10, 20), 10)), scene_of(FACES.set("second", (10, 20), 10))]
    content = pdf(pages, FACES)
    shown = read_pdf(content, "pdftotext")
    assert shown.split() == ["first", "second"]
    facts = read_pdf(content, "pdfinfo")
    assert "Pages:           2" in facts
    assert "300 x 200 pts" in facts


def test_png_has_the_asked_number_of_dots_and_the_paint_where_it_belongs():
    box = scene_of(
        Rectangle(box=Box(100, 50, 100, 50), paint=Paint(fill="#ff0000")),
        polyline([(0, 150), (300, 150)], Paint(stroke="#0000ff", thickness=4)),
    )
    image = Image.open(BytesIO(png(box, FACES, dots_per_inch=72))).convert("RGB")
    assert image.size == (300, 200)
    assert image.getpixel((150, 75)) == (255, 0, 0)
    assert image.getpixel((150, 150)) == (0, 0, 255)
    assert image.getpixel((50, 75)) == (255, 255, 255)


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("its", INKS, ids=lambda its: its.colour)
def test_black_marks_stand_out_on_every_tint(its):
    # WCAG 2.2, 1.4.11: marks at least 3:1; we keep the 4.5:1 of text (1.4.3)
    assert (_luminance(its.tint) + 0.05) / (_luminance("#1a1a1a") + 0.05) > 4.5


def test_fourteen_layers_are_told_apart_by_colour_and_neighbours_by_hatching_alone():
    inks = [ink(index) for index in range(14)]
    assert len({(its.colour, its.slopes) for its in inks}) == 14
    assert all(one.slopes != other.slopes for one, other in pairwise(inks))


def test_a_font_that_is_none_is_refused(tmp_path):
    path = tmp_path / "none.ttf"
    with pytest.raises(UsageError, match="cannot be read"):
        Typeface.installed([path])
    path.write_text("no font")
    with pytest.raises(UsageError, match="is no font"):
        Typeface.installed([path])


def test_a_package_that_is_missing_is_named(monkeypatch):
    real = find_spec
    monkeypatch.setattr(
        "bridge.out.typeface.find_spec", lambda name: None if name == "uharfbuzz" else real(name)
    )
    with pytest.raises(UsageError, match="missing here: uharfbuzz") as refused:
        Typeface.installed()
    assert "install it again" in str(refused.value.hint)


def test_missing_japanese_letters_name_the_extra_that_has_them():
    bare = Typeface(FACES.regular, FACES.bold)
    written = told([scene_of(bare.set("潮", (10, 20), 10))], bare)
    assert written.facts == {"missing_letters": "潮"}
    assert "the extra 'japanese'" in written.notes[0]
