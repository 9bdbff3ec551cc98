"""The picture of the form: to scale, whole, readable, and nothing runs into anything."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from bridge.out.form import form_scene
from bridge.out.form.heads import titled
from bridge.out.form.lanes import cycle_words
from bridge.out.form.picture import sheet_of
from bridge.out.palette import ink
from bridge.out.pdf import pdf
from bridge.out.scene import BLACK, Path, Rectangle
from bridge.out.typeface import Typeface
from bridge.song import Song, gathering_in
from bridge.song import full_meetings as met
from tests.out.drawn import LOW_TIDE, NAMES, ONE, many_layers, many_sections, outside, overlapping, song_of
from tests.out.test_picture_writers import read_pdf

FACES = Typeface.installed()
SONGS = {"low tide": LOW_TIDE, "one": ONE, "200 sections": many_sections(), "24 layers": many_layers()}


@pytest.fixture(scope="module")
def low_tide() -> Song:
    return song_of(LOW_TIDE)


def lettered(song: Song) -> Song:
    sections = tuple(
        replace(placed, section=replace(placed.section, letter=chr(65 + index)))
        for index, placed in enumerate(song.sections)
    )
    return replace(song, sections=sections)


@pytest.mark.parametrize("name", SONGS)
def test_no_text_runs_into_another_or_off_the_page(name):
    song = song_of(SONGS[name])
    for drawn in (song, lettered(song) if len(song.sections) < 20 else song):
        scene = form_scene(drawn, FACES)
        assert overlapping(scene) == []
        assert outside(scene) == []


@pytest.mark.parametrize("count", [2, 9, 23, 70])
def test_however_many_sections_no_text_runs_into_another(count):
    scene = form_scene(song_of(many_sections(count)), FACES)
    assert overlapping(scene) == []
    assert outside(scene) == []


def test_every_section_is_named_at_least_in_part_or_numbered_in_the_key():
    for text in SONGS.values():
        song = song_of(text)
        shown = [shape.text for shape in form_scene(song, FACES).texts]
        for placed in song.sections:
            name = titled(placed)
            assert any(
                words == name or (words.endswith("…") and name.startswith(words[:-1])) for words in shown
            )


def _begins(name: str, words: str) -> bool:
    return words.endswith("…") and name.startswith(words[:-1])


def test_sections_are_to_scale_in_time(low_tide):
    sheet, _ = sheet_of(low_tide, FACES)
    assert sheet.x(low_tide.end) == pytest.approx(sheet.right)
    for placed in low_tide.sections:
        start, end = sheet.span(placed)
        share = (low_tide.seconds(placed.end) - low_tide.seconds(placed.start)) / low_tide.total_seconds
        assert (end - start) / (sheet.right - sheet.left) == pytest.approx(float(share))


def test_a_layer_is_drawn_where_it_sounds_and_nowhere_else(low_tide):
    sheet, _ = sheet_of(low_tide, FACES)
    scene = form_scene(low_tide, FACES)
    for number, (name, lane) in enumerate(zip(low_tide.plan.layers, sheet.bands.lanes, strict=True)):
        blocks = [
            (shape.box.left, shape.box.right)
            for shape in scene.shapes
            if isinstance(shape, Rectangle) and lane.holds(shape.box) and shape.paint.fill == ink(number).tint
        ]
        sounding = [
            sheet.span(placed)
            for placed in low_tide.sections
            if name in {part.layer.name for part in placed.parts}
        ]
        assert [pytest.approx(block) for block in blocks] == sounding


def test_every_home_of_the_band_is_marked_at_its_own_instant(low_tide):
    sheet, _ = sheet_of(low_tide, FACES)
    lane = sheet.bands.lanes[0]
    marks = sorted(
        values[0]
        for shape in form_scene(low_tide, FACES).shapes
        if isinstance(shape, Path) and not shape.paint.fill and shape.paint.stroke == BLACK
        for command, values in shape.segments
        if command == "M" and lane.top < values[1] < lane.bottom
    )
    homes = [sheet.x(home) for part in low_tide.sounding()["band"] for home in part.homes()]
    assert marks == pytest.approx(homes)


def test_meetings_agree_with_the_song_s_own_list(low_tide):
    listed = [meeting.place for meeting in met(low_tide)]
    ours = [
        place
        for placed in low_tide.sections
        if (found := gathering_in(placed))
        for place in found.between(placed.start, placed.end)
    ]
    assert ours == listed
    assert len(ours) > 10


def test_bars_minutes_tempo_meter_payoffs_and_the_end_can_be_read_in_the_pdf(low_tide):
    shown = read_pdf(pdf([form_scene(low_tide, FACES)], FACES), "pdftotext", "-layout")
    for words in (
        "Low Tide Relay", "335 bars", "Landfall", "Held Breath", "96 bars · 3:20", "512 turns",
        "tempo, meter", "♩ = 115.2", "7/8", "End", "bar 336", "12:12", "minutes", "1.00 times as long",
        "tacet", "all meet", "percussion · 3/16", "energy",
    ):  # fmt: skip
        assert words in shown, words


def test_a_song_without_energy_has_no_empty_curve():
    shown = {shape.text for shape in form_scene(song_of(ONE), FACES).texts}
    assert "energy" not in shown
    assert "whale" in shown


def test_names_in_other_scripts_are_whole_in_the_pdf():
    text = LOW_TIDE.replace("name: Landfall", f"name: {NAMES[0]}")
    shown = read_pdf(pdf([form_scene(song_of(text), FACES)], FACES), "pdftotext")
    missing = FACES.missing(NAMES[0])
    assert missing or NAMES[0] in shown


def test_the_description_tells_the_form_to_those_who_cannot_see_it(low_tide):
    words = form_scene(low_tide, FACES).description
    assert "Held Breath: bars 113 to 113, general pause." in words
    assert words.endswith("End.")


def test_cycles_are_written_as_they_were_thought_of(low_tide):
    layers = low_tide.plan.layers
    assert cycle_words(layers["band"]) == "4 bars"
    assert cycle_words(layers["hand drum"]) == "3/16"
    assert cycle_words(layers["bells"]) == "3+3+2/8"
    assert Fraction(5, 4) == layers["keys"].cycle.whole_notes


def test_a_cycle_of_no_length_to_speak_of_and_a_whole_day_are_drawn_at_once():
    fast = song_of(LOW_TIDE.replace("cycle: 3/16", "cycle: 1/999999999"))
    day = song_of(ONE.replace("bars: 3", "bars: 37000").replace("cycle: 1000/1", "cycle: 1/64"))
    for song in (fast, day):
        scene = form_scene(song, FACES)
        assert overlapping(scene) == []
        assert len(scene.shapes) < 1000
