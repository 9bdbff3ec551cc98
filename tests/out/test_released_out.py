"""A free passage, a vamp and the plan's cues in what is exported: no click, no notes, and said so."""

from __future__ import annotations

import io
import json
from fractions import Fraction

import mido
import pytest

from bridge.out.guide.options import GuideOptions
from bridge.out.guide.take import Take
from bridge.out.guide.voices import voices_of
from bridge.out.json_table import write as write_json
from bridge.out.midi_file import write as write_midi
from bridge.out.request import Request
from bridge.plan import load
from bridge.song import Frame, Song, asked_cues, counted_in, unroll

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
