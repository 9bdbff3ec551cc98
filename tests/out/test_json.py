"""The song as one JSON object."""

from __future__ import annotations

import io
import json

import pytest

from bridge.errors import UsageError
from bridge.out import json_table
from bridge.out.request import Request
from bridge.song import Frame
from tests.out.songs import layer, section, song, tide


def read(made, **options):
    file = io.BytesIO()
    json_table.write(Frame.of(made), file, Request(**options))
    return json.loads(file.getvalue())


def test_it_holds_the_markers_with_every_measure_of_time():
    made = tide()
    found = read(made, smpte_rate="30")
    assert found["markers"][1] == {
        "number": 2,
        "name": "Crossing",
        "bar": 5,
        "beat": 1,
        "seconds": 25 / 3,
        "samples": 400000,
        "ticks": 15360,
        "smpte": "00:00:08:10",
        "quarters": "16",
        "bpm": "115.2",
        "meter": "4/4",
        "bars": 12,
        "lasts_seconds": 25.0,
        "letter": None,
        "note": None,
        "pickup": None,
        "count_in_bars": None,
    }
    assert found["markers"][-1]["name"] == "End"
    assert found["markers"][-1]["bars"] is None
    assert (found["smpte_rate"], found["samples_per_second"], found["ticks_per_quarter"]) == (
        "30",
        48000,
        960,
    )


def test_it_tells_who_sounds_and_where_all_meet():
    made = song(
        [layer("band", 4), layer("drum", "3/16")], [section("Crossing", 24, ["band", "drum"], tempo="120")]
    )
    found = read(made)
    assert found["sections"][0]["layers"] == [
        {"name": "band", "turns": "6", "cycle": "4"},
        {"name": "drum", "turns": "128", "cycle": "3/16"},
    ]
    assert [(one["at"], one["seconds"], one["landing"]) for one in found["meetings"]] == [
        ("1.1", 0.0, False),
        ("13.1", 24.0, False),
        ("25.1", 48.0, True),
    ]


def test_names_stay_readable():
    made = song([layer("鼓", 1)], [section("潮の間 🌊", 1, ["鼓"])])
    file = io.BytesIO()
    json_table.write(Frame.of(made), file, Request())
    assert "潮の間 🌊" in file.getvalue().decode()


def test_meetings_beyond_number_are_refused():
    dust = [layer(name, "1/1000000") for name in ("dust", "sand")]
    with pytest.raises(UsageError, match="4000000 notes"):
        read(song(dust, [section("Ebb", 2, ["dust", "sand"])]))
