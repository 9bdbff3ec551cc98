"""``plan`` where the tempo is a range: which one was chosen, in JSON and for people."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.cli.main import main
from tests.plan.texts import song

CROSSING = (
    'name: Crossing, layers: [band, drum], length: {about: "2:30", at_least: 72 bars, at_most: 72 bars}'
)
RANGE = "{between: [108, 118]}"


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "tide.yaml"
    path.write_text(song(CROSSING, tempo=RANGE), encoding="utf-8")
    return path


def _json(capsys, *words: str, code: int = 0) -> dict:
    assert main([*words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_the_json_says_the_tempo_as_an_exact_text_and_null_where_there_is_no_range(plan, capsys):
    found = _json(capsys, "plan", str(plan))
    assert (found["tempo"], found["cost"], found["proven"]) == ("115.2", 0, True)
    assert found["total_seconds"] == 150
    plan.write_text(song(CROSSING, tempo="115.2"), encoding="utf-8")
    assert _json(capsys, "plan", str(plan))["tempo"] is None


def test_people_read_the_tempo(plan, capsys):
    assert main(["plan", str(plan)]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "72 bars, 2:30, at tempo 115.2; cost 0.00 s" in shown
    assert "at any tempo of the range" in shown


def test_where_nothing_fits_it_says_at_which_tempo_it_looked(plan, capsys):
    short = "name: Crossing, layers: [band, drum], bars: 72, length: {at_most: 8 bars}"
    plan.write_text(song(short, tempo=RANGE), encoding="utf-8")
    found = _json(capsys, "plan", str(plan), code=1)
    assert found["tempo"] == "113"
    assert [one["demand"] for one in found["conflict"]] == [
        "Crossing has 72 bars",
        "Crossing lasts at most 8 bars",
    ]
    assert main(["plan", str(plan)]) == 1
    assert "Nothing fits at any tempo from 108 to 118; at 113:" in capsys.readouterr().out


def test_everything_after_the_plan_uses_the_tempo_chosen(plan, capsys, tmp_path):
    table = tmp_path / "tide.csv"
    assert main(["export", str(plan), str(table)]) == 0
    assert ",115.2," in table.read_text(encoding="utf-8")
    assert main(["check", str(plan)]) == 0
    capsys.readouterr()


def test_another_tempo_than_the_kept_one_is_told(plan, capsys, tmp_path):
    assert main(["plan", str(plan), "--keep"]) == 0
    plan.write_text(song(CROSSING, tempo="{between: [108, 112]}"), encoding="utf-8")
    assert main(["export", str(plan), str(tmp_path / "tide.csv")]) == 0
    assert "the tempo is 112; the kept solution has 115.2" in capsys.readouterr().err
