"""A free passage, a vamp and the plan's cues in what is exported: no click, no notes, and said so."""

from __future__ import annotations

import io
import json
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import mido
import pytest

from bridge.errors import UsageError
from bridge.exact import Place
from bridge.out.form import form_scene
from bridge.out.guide.options import GuideOptions
from bridge.out.guide.take import Take
from bridge.out.guide.voices import voices_of
from bridge.out.handout.stretch import stretch_of_section
from bridge.out.json_table import write as write_json
from bridge.out.midi_file import write as write_midi
from bridge.out.musicxml import score_of
from bridge.out.paper import players
from bridge.out.paper.blocks import blocks_for
from bridge.out.request import Request
from bridge.out.scene import Rectangle, Text
from bridge.out.typeface import Typeface
from bridge.plan import load
from bridge.song import Frame, HostCount, Song, asked_cues, counted_in, unroll
from tests import oracle

WATER = """\
pulsebridge: 1
title: Slack Water
tempo: 120
meter: 4/4
layers:
  band:      {cycle: 4 bars, player: guitars}
  hand drum: {cycle: 3/16, player: percussion}
  bells:     {cycle: 5/8, player: percussion}
sections:
  - {name: Fog, free: {about: "0:40"}, layers: [bells]}
  - name: Still
    layers: [band, hand drum]
    count_in: 2 bars
    vamp: {at_least: 12 bars}
    cues:
      - {at: start, for: guitars, say: hold it down, send: {program: 12, channel: 3}}
      - {at: end - 1 bar, send: [{controller: 0, value: 3, channel: 1}, {osc: [/lamp, 0.5, 2, on]}]}
  - {name: Gap, free: {about: "0:01"}, meter: 3/4}
  - {name: Ebb, layers: [band], bars: 4, meter: 7/8, resolve: [], count_in: 1 bar}
"""


@pytest.fixture(scope="module")
def water() -> Song:
    return unroll(load(WATER), [1, 12, 1, 4])


def clicks(song: Song) -> list[tuple[Fraction, str]]:
    take = Take.of(Frame.of(song), GuideOptions(), 48000)
    return [(Fraction(at, 48000), kind) for at, kind in voices_of(take, GuideOptions())[0].hits]


def test_no_click_and_no_note_falls_into_a_free_passage_but_the_count_that_ends_it(water: Song) -> None:
    fog, still, gap, ebb = water.sections
    heard = clicks(water)
    assert [at for at, _ in heard if at < 40] == [36 + Fraction(beat, 2) for beat in range(8)]
    assert {kind for at, kind in heard if at < 40} == {"count"}
    begins, ends = water.seconds(gap.start), water.seconds(gap.end)
    assert {kind for at, kind in heard if begins <= at < ends} <= {"count"}
    for row in (row for part in still.parts for row in part.rows()):
        assert all(still.start <= place < gap.start for place in row.places())
    assert (fog.parts, gap.parts) == ((), ())
    assert [part.layer.name for part in ebb.parts] == ["band"]


def test_a_count_longer_than_the_passage_begins_with_it(water: Song) -> None:
    """A bar of 7/8 at 120 takes 1.75 s; the passage lasts one: the last four eighths of it are counted."""
    gap, ebb = water.sections[2:]
    counted = counted_in(water, ebb)
    seconds = [water.seconds(place) - water.seconds(gap.start) for place, _ in counted]
    assert seconds == [Fraction(beat, 4) for beat in range(4)]
    assert [first for _, first in counted] == [False] * 4


def test_the_midi_file_lasts_as_long_and_counts_in_at_the_new_tempo(water: Song) -> None:
    out = io.BytesIO()
    written = write_midi(Frame.of(water), out, Request())
    midi = mido.MidiFile(file=io.BytesIO(out.getvalue()))
    assert midi.length == pytest.approx(float(water.total_seconds), abs=1e-3)
    at, notes = 0.0, []
    for message in midi:
        at += message.time
        if message.type == "note_on":
            notes.append((at, message.channel))
    early = [(at, channel) for at, channel in notes if at < 39.99]
    assert [channel for _, channel in early] == [9] * 8
    assert [at for at, _ in early] == pytest.approx([36 + beat / 2 for beat in range(8)], abs=8e-3)
    assert any("what is counted in there is at most" in note for note in written.notes)
    texts = [message.text for message in midi.tracks[0] if message.type in ("text", "cue_marker")]
    assert {"free, about 0:40", "vamp, held until released, at least 12 bars"} <= set(texts)
    assert "guitars: hold it down" in texts


def test_the_json_table_tells_cues_with_place_and_messages(water: Song) -> None:
    out = io.BytesIO()
    write_json(Frame.of(water), out, Request())
    found = json.loads(out.getvalue())
    assert [(one["vamp"], one["free"]) for one in found["sections"]] == [
        (False, True),
        (True, False),
        (False, True),
        (False, False),
    ]
    assert found["cues"] == [
        {
            "at": "2.1",
            "seconds": 40.0,
            "section": "Still",
            "for": "guitars",
            "say": "hold it down",
            "send": [{"program": 12, "channel": 3}],
            "sound": None,
        },
        {
            "at": "13.1",
            "seconds": 62.0,
            "section": "Still",
            "for": None,
            "say": None,
            "send": [
                {"controller": 0, "value": 3, "channel": 1},
                {"osc": ["/lamp", "fis", 0.5, 2, "on"]},
            ],
            "sound": None,
        },
    ]
    assert len(asked_cues(water)) == 2


def test_the_score_has_one_held_rest_said_to_be_free_and_keeps_the_schema(water: Song) -> None:
    xmlschema, package = oracle("xmlschema"), oracle("musicxml")
    content = score_of(water).content
    schema = Path(package.__file__).parent / "generate_classes" / "musicxml_4_0.xsd"
    xmlschema.XMLSchema(str(schema)).validate(ElementTree.ElementTree(ElementTree.fromstring(content)))
    for part in ElementTree.fromstring(content).iter("part"):
        held = [measure.get("number") for measure in part if measure.find(".//fermata") is not None]
        assert held == ["1", "14"]
        assert all(len(part[int(number) - 1].findall("note")) == 1 for number in held)
    first = ElementTree.fromstring(content).find("part")
    assert first is not None
    words = {measure.get("number"): [w.text for w in measure.iter("words")] for measure in first}
    assert words["1"][:2] == ["count-in to Still: 2 bars", "free, about 0:40"]
    assert "vamp, held until released, at least 12 bars" in words["2"]
    marks = {measure.get("number"): [m.text for m in measure.iter("per-minute")] for measure in first}
    assert (marks["1"], marks["2"], marks["15"]) == ([], ["120"], ["120"])


def test_a_players_paper_says_who_plays_freely_what_is_held_and_the_cues_for_that_player(water: Song) -> None:
    mine = {who: blocks_for(water, layers) for who, layers in players(water).items()}
    fog, *_ = mine["percussion"]
    assert (fog.name, fog.facts, fog.mine) == ("Fog", "free, about 0:40", ())
    assert [line.text for line in fog.lines] == ["nobody: you are alone", "Still at bar 2, 2 bars counted in"]
    silent, still, *_ = mine["guitars"]
    assert silent.tacet
    assert silent.lines[0].text == "free, about 0:40: bells"
    assert "vamp, held until released, at least 12 bars" in [line.text for line in still.lines]
    assert ("2.1 hold it down", "cues") in [(line.text, line.head) for line in still.lines]
    assert not any(line.head == "cues" for block in mine["percussion"] for line in block.lines)


def test_the_picture_shows_what_is_free_and_its_key_says_so(water: Song) -> None:
    scene = form_scene(water, Typeface.installed())
    texts = [shape.text for shape in scene.shapes if isinstance(shape, Text)]
    assert {"free · 0:40", "12 bars vamp · 0:24", "free", "free: plays without bars or turns"} <= set(texts)
    assert not any("5.33" in text or "6 " in text for text in texts)
    assert "0:00 Fog: bars 1 to 1, free, about 0:40, bells." in scene.description
    dashed = [shape for shape in scene.shapes if isinstance(shape, Rectangle) and shape.paint.dash]
    assert len(dashed) == 2  # the lane of the bells, and its mark in the key


def test_a_handout_of_a_free_passage_is_refused_with_the_reason(water: Song) -> None:
    with pytest.raises(UsageError, match="no cycle turns in 'Fog'"):
        stretch_of_section(water.sections[0])


def test_what_comes_before_a_song_that_begins_freely_has_the_tempo_of_its_first_bars() -> None:
    song = unroll(load(WATER.replace("meter: 4/4\n", "meter: 4/4\norigin: {bar: 3}\n", 1)), [1, 12, 1, 4])
    assert song.seconds(Place(-1)) == -2
    assert song.place_at(Fraction(-2)) == Place(-1)
    assert Frame.of(song, count_in=1).lead_seconds == 2
    assert HostCount(song).seconds_before == 4
    assert HostCount(song).place_of_seconds(Fraction(1)) == Place(Fraction(-3, 2))
    freely = unroll(load(WATER.split("  - name: Still", maxsplit=1)[0]), [1])
    assert freely.seconds(Place(-1)) == -40


def test_an_excerpt_that_begins_freely_is_counted_in_at_the_tempo_that_follows(water: Song) -> None:
    take = Take.of(Frame.of(water, count_in=1), GuideOptions(begin="Gap"), 48000)
    assert [at for at, _ in take.count_in()] == [0, 24000, 48000]
    assert take.lead == Fraction(3, 2)


def test_where_the_song_ends_freely_its_end_is_not_clicked() -> None:
    song = unroll(load(WATER.split("  - {name: Ebb", maxsplit=1)[0]), [1, 12, 1])
    assert max(at for at, _ in clicks(song)) < song.seconds(song.sections[2].start)
