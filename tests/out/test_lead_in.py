"""Pickups and count-ins in files: heard, written and told where the plan puts them."""

from __future__ import annotations

import json
from io import BytesIO

import numpy as np
import pytest
from mido import MidiFile

from bridge.exact import Length
from bridge.out import csv_table, json_table, midi_file, musicxml_file
from bridge.out.form import form_scene
from bridge.out.guide.options import ClickOut, GuideOptions
from bridge.out.guide.performance import Performance
from bridge.out.guide.take import Take
from bridge.out.guide.voices import voices_of
from bridge.out.paper import player_paper
from bridge.out.request import Request
from bridge.out.typeface import Typeface
from bridge.song import Frame
from tests import oracle
from tests.out.songs import layer, section, song

RATE = 48000
BAR = 2 * RATE
FACES = Typeface.installed()


@pytest.fixture
def made():
    """At 120: the bells alone with a pickup of a quarter, then both, counted in, with a pickup of 3/8."""
    return song(
        [layer("band", 4), layer("bells", "1", groups=[3, 3, 2])],
        [
            section("Ebb", 4, ["bells"], tempo="120", pickup=Length("1/4"), count_in=2),
            section("Swell", 4, ["band", "bells"], tempo="120", pickup=Length("3/8"), count_in=1),
        ],
    )


def heard(made, options=None, **frame):
    options = options or GuideOptions()
    voices = voices_of(Take.of(Frame.of(made, **frame), options, RATE), options)
    return {voice.name: list(voice.hits) for voice in voices}


def test_the_guide_plays_the_pickup_before_bar_1(made):
    found = heard(made)
    assert found["bells"][:2] == [(BAR * 3 // 4, "note"), (BAR, "home")]
    assert found["click"][0] == (BAR, "downbeat")
    counted = heard(made, count_in=2)
    assert counted["bells"][0] == (BAR * 7 // 4, "note")
    assert [at for at, _ in counted["click"]][:9] == [RATE // 2 * beat for beat in range(9)]


def test_the_second_time_through_the_pickup_lies_over_the_end_of_the_first(made):
    bells = [at for at, _ in heard(made, GuideOptions(times=2))["bells"]]
    assert {(1 + 8) * BAR - BAR // 4, (1 + 8) * BAR} <= set(bells)


def test_a_later_pickup_lies_in_the_last_bar_of_the_section_before(made):
    assert heard(made)["band"][0] == (5 * BAR - BAR * 3 // 8, "note")
    assert heard(made, GuideOptions(begin="Swell"))["band"][0] == (0, "home")


@pytest.mark.parametrize(
    "options", [GuideOptions(), GuideOptions(click_out=ClickOut(3, 4)), GuideOptions(click_for="band")]
)
def test_a_section_counted_in_is_heard_whatever_is_clicked(made, options):
    counted = [at for at, kind in heard(made, options)["click"] if kind == "count"]
    assert counted == [4 * BAR + RATE // 2 * beat for beat in range(4)]


def test_a_count_in_before_an_excerpt_is_as_long_as_its_section_says():
    made = song(
        [layer("band", 4)],
        [section("Ebb", 4, ["band"], tempo="120"), section("Swell", 4, ["band"], tempo="120", count_in=2)],
    )
    assert heard(made, GuideOptions(begin="Swell"), count_in=1)["band"][0][0] == 2 * BAR
    assert heard(made, GuideOptions(begin="3"), count_in=1)["click"][4][0] == BAR


def test_the_pickup_is_in_the_samples(made):
    options = GuideOptions(only=("bells",), without=("click", "meetings"))
    blocks = [one.copy() for one in Performance(Frame.of(made), options).blocks()]
    first = int(np.flatnonzero(np.abs(np.concatenate(blocks)).max(axis=1))[0])
    assert BAR * 3 // 4 <= first < BAR * 3 // 4 + 50


def test_the_midi_file_holds_pickup_and_count(made):
    file = BytesIO()
    midi_file.write(Frame.of(made), file, Request())
    midi = MidiFile(file=BytesIO(file.getvalue()))
    found = {}
    for track in midi.tracks[1:]:
        at, starts = 0, []
        for message in track:
            at += message.time
            if message.type == "note_on":
                starts.append(at / midi.ticks_per_beat)
        found[track.name] = starts[:4]
    assert found == {"band": [18.5, 20], "bells": [3, 4, 5.5, 7], "count-in": [16, 17, 18, 19]}


def test_tables_tell_pickup_and_count(made):
    file, table = BytesIO(), BytesIO()
    json_table.write(Frame.of(made), file, Request())
    rows = json.loads(file.getvalue())["markers"]
    assert [(row["seconds"], row["pickup"], row["count_in_bars"]) for row in rows] == [
        (2.0, "1/4", 2),
        (10.0, "3/8", 1),
        (18.0, None, None),
    ]
    csv_table.write(Frame.of(made), table, Request())
    assert table.getvalue().splitlines()[0].endswith(b",pickup,count_in_bars")


def test_the_score_begins_with_bar_0(made):
    music21 = oracle("music21")
    file = BytesIO()
    musicxml_file.write(Frame.of(made), file, Request())
    text = file.getvalue().decode()
    assert '<measure number="0" implicit="yes">' in text
    for said in ("count-in to Ebb: 2 bars", "pickup to Swell", "count-in to Swell: 1 bar"):
        assert f"<words>{said}</words>" in text
    score = music21.converter.parseData(text, format="musicxml")
    band, bells = (
        [float(n.offset) for n in part.flatten().notes if n.tie is None or n.tie.type == "start"]
        for part in score.parts
    )
    assert band == [18.5, 20.0]
    assert bells[:3] == [3.0, 4.0, 5.5]


def test_paper_says_where_the_pickup_and_the_count_begin(made):
    said = " ".join(text.text for page in player_paper(made, "band", FACES).pages for text in page.texts)
    assert "4.3+1/8, with the pickup to bar 5, Swell" in said
    assert "band: 3/8 of a whole note before bar 5, at 4.3+1/8" in said
    assert "1 bar before bar 5" in said


def test_the_pictures_key_explains_the_pickups_flag_only_where_there_is_one(made):
    assert "pickup" in [text.text for text in form_scene(made, FACES).texts]
    plain = song([layer("band", 4)], [section("Ebb", 4, ["band"])])
    assert "pickup" not in [text.text for text in form_scene(plain, FACES).texts]
