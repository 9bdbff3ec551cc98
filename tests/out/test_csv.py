"""The table of markers: what a spreadsheet reads back."""

from __future__ import annotations

import csv
import io

import pytest

from bridge.out import csv_table
from bridge.out.request import Request
from bridge.song import Frame
from tests.out.songs import layer, section, song, tide


def rows(made, **options):
    file = io.BytesIO()
    csv_table.write(Frame.of(made, **options), file, Request())
    return list(csv.DictReader(io.StringIO(file.getvalue().decode(), newline="")))


def test_every_marker_has_bar_beat_seconds_samples_and_ticks():
    made = tide()
    found = rows(made)
    assert [row["name"] for row in found] == [*(s.name for s in made.sections), "End"]
    crossing = found[1]
    assert (crossing["bar"], crossing["beat"]) == ("5", "1")
    assert float(crossing["seconds"]) == 25 / 3  # 16 quarters at 115.2
    assert (crossing["samples"], crossing["ticks"], crossing["quarters"]) == ("400000", "15360", "16")
    assert (crossing["bpm"], crossing["meter"], crossing["bars"]) == ("115.2", "4/4", "12")


def test_seconds_are_unrounded_doubles():
    made = tide()
    for row, marker in zip(rows(made), made.markers, strict=True):
        assert float(row["seconds"]) == float(made.seconds(marker.place))


def test_what_does_not_apply_to_the_end_is_empty():
    end = rows(tide())[-1]
    assert (end["name"], end["bars"], end["lasts_seconds"]) == ("End", "", "")


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)"])
def test_a_name_that_begins_like_a_formula_gets_a_quote(name):
    made = song([layer("band", 1)], [section(name, 1, ["band"])])
    assert rows(made)[0]["name"] == "'" + name


@pytest.mark.parametrize("name", ['say "now"', "a, b", "潮の間", "مد", "🌊", "x" * 200])
def test_other_names_survive(name):
    made = song([layer("band", 1)], [section(name, 1, ["band"])])
    assert rows(made)[0]["name"] == name


def test_with_a_count_in_bar_1_keeps_its_number_and_comes_later():
    first = rows(tide(), count_in=1)[0]
    assert (first["bar"], first["samples"], first["quarters"]) == ("1", "100000", "4")


def test_letter_and_note_stand_beside_the_name_and_are_no_formulas_either():
    made = song([layer("band", 1)], [section("Ebb", 1, ["band"], letter="B", note="=softly")])
    (ebb, end) = rows(made)
    assert (ebb["letter"], ebb["note"]) == ("B", "'=softly")
    assert (end["letter"], end["note"]) == ("", "")
