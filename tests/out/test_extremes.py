"""Songs at the edges of what a plan allows, through every exporter of times and sounds."""

from __future__ import annotations

import csv
import io
import json

import mido
import numpy as np
import pytest
import soundfile

from bridge.exact import samples
from bridge.out import csv_table, json_table, midi_file, wave_file
from bridge.out.request import Request
from bridge.song import Frame, Song
from tests.out.songs import layer, section, song

LONG = "tide " * 40
NAMES = ["潮の間", "مدّ وجزر", "🌊🥁", "e\u0301t\u00e9", LONG.strip(), "'=cmd", '"', "[red]x[/red]"]


def named() -> Song:
    return song(
        [layer(name, 1) for name in NAMES],
        [section(name, 1, NAMES[: number + 1]) for number, name in enumerate(NAMES)],
    )


SONGS = {
    "one section of one bar": lambda: song([layer("a", 1)], [section("Ebb", 1, ["a"])]),
    "nobody plays": lambda: song([layer("a", 1)], [section("Slack", 2, [], resolve=[])]),
    "200 sections": lambda: song(
        [layer("a", "1/4"), layer("b", "3/16")],
        [section(f"part {n}", 1 + n % 3, ["a", "b"], tempo=str(300 + n), resolve=[]) for n in range(200)],
    ),
    "meter 1/16": lambda: song([layer("a", "1/16")], [section("Ebb", 40, ["a"], meter="1/16")]),
    "meter 31/8": lambda: song([layer("a", "31/8")], [section("Ebb", 2, ["a"], meter="31/8")]),
    "tempo 20": lambda: song([layer("a", 1)], [section("Ebb", 2, ["a"], tempo="20")]),
    "tempo 400": lambda: song([layer("a", "1/32")], [section("Ebb", 8, ["a"], tempo="400")]),
    "a cycle longer than the song": lambda: song(
        [layer("a", "1000/1")], [section("Ebb", 2, ["a"], resolve=[])]
    ),
    "a start after the end": lambda: song(
        [layer("a", 1, start="100")], [section("Ebb", 2, ["a"], resolve=[])]
    ),
    "a start far beyond the cycle": lambda: song(
        [layer("a", "3/16", start="1")], [section("Ebb", 3, ["a"], resolve=[])]
    ),
    "names in many scripts": named,
}


@pytest.fixture(params=SONGS, ids=str)
def made(request) -> Song:
    return SONGS[request.param]()


def test_midi_holds_every_marker_and_note(made):
    file = io.BytesIO()
    midi_file.write(Frame.of(made, count_in=1), file, Request())
    midi = mido.MidiFile(file=io.BytesIO(file.getvalue()), charset="utf-8")
    assert [m.text for m in midi.tracks[0] if m.type == "marker"] == [m.name for m in made.markers]
    for track, parts in zip(midi.tracks[1:], made.sounding().values(), strict=False):
        ons = sum(1 for message in track if message.type == "note_on")
        assert ons == sum(1 for part in parts for _ in part.onsets())
    lead = Frame.of(made, count_in=1).lead_seconds
    assert midi.length == pytest.approx(float(lead + made.total_seconds), abs=0.001)


def test_tables_hold_every_marker(made):
    rows, whole = io.BytesIO(), io.BytesIO()
    csv_table.write(Frame.of(made), rows, Request())
    json_table.write(Frame.of(made), whole, Request())
    names = [marker.name for marker in made.markers]
    assert [row["name"] for row in json.loads(whole.getvalue())["markers"]] == names
    table = list(csv.DictReader(io.StringIO(rows.getvalue().decode(), newline="")))
    assert [row["name"] for row in table] == names


def test_the_guide_is_as_long_as_the_song_and_safe(made):
    file = io.BytesIO()
    wave_file.write(Frame.of(made), file, Request())
    file.seek(0)
    heard, rate = soundfile.read(file, dtype="int16")
    assert len(heard) == samples(made.total_seconds, rate) + 5 * rate
    assert 0 < np.abs(heard.astype(int)).max() <= 32768 * 10 ** (-12 / 20)


def test_labels_in_many_scripts_are_read_back():
    wavinfo = pytest.importorskip("wavinfo")
    file = io.BytesIO()
    wave_file.write(Frame.of(named()), file, Request())
    info = wavinfo.WavInfoReader(io.BytesIO(file.getvalue()), info_encoding="utf-8")
    assert [label.text for label in info.cues.labels] == [*NAMES, "End"]
