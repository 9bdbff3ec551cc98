"""``plan``: the contract's JSON, its exit codes, and what people read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.cli.main import main

CONTRACT = """\
pulsebridge: 1
title: Low Tide Relay
tempo: 115.2
meter: 4/4
total: {about: "5:30", within: "0:15"}
origin: {bar: 3}
layers:
  band:       {cycle: 4 bars, player: guitars}
  hand drum:  {cycle: 3/16, player: percussion}
  bells:      {groups: [3, 3, 2], unit: 1/8}
  keys:       {pulses: 5, over: 1 bar}
  figure:     {cycle: 12/16}
  second figure: {cycle: 12/16, rate: 73/72}
  shaker:     {cycle: 5/8, start: 1/4}
sections:
  - {name: Prelude, layers: [band], bars: 16, energy: 10}
  - name: Crossing
    layers: [band, hand drum]
    length: {about: "2:30", at_least: 24 bars, at_most: 96 bars}
    energy: [20, 90]
  - name: Landfall
    layers: [band, hand drum, bells]
    length: {about: "2:30"}
    pays_off: {section: Crossing, ratio: 1}
    energy: 100
"""

IMPOSSIBLE = CONTRACT.replace("at_most: 96 bars", "at_most: 25 bars").replace(
    "at_least: 24 bars", "at_least: 25 bars"
)


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "tide.yaml"
    path.write_text(CONTRACT, encoding="utf-8")
    return path


def _json(capsys, *words: str, code: int = 0) -> dict:
    assert main([*words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_the_contracts_own_example_lands_where_the_sum_says(plan, capsys):
    found = _json(capsys, "plan", str(plan))
    assert [s["bars"] for s in found["sections"]] == [16, 72, 72]
    assert [s["start_bar"] for s in found["sections"]] == [1, 17, 89]
    assert [s["end_bar"] for s in found["sections"]] == [16, 88, 160]
    assert [s["seconds"] for s in found["sections"]] == [16 * 240 / 115.2, 150.0, 150.0]
    assert found["sections"][1]["turns"] == {"band": "18", "hand drum": "384"}
    assert all(s["resolved"] for s in found["sections"])
    assert found["total_bars"] == 160
    assert found["total_seconds"] == pytest.approx(1000 / 3, abs=1e-12)
    assert found["cost"] == pytest.approx(10 / 3, abs=1e-12)
    assert found["proven"] is True
    assert found["gap"] == 0


def test_what_cannot_be_is_exit_1_with_the_conflict_and_its_lines(plan, capsys):
    plan.write_text(IMPOSSIBLE, encoding="utf-8")
    found = _json(capsys, "plan", str(plan), code=1)
    lines = {line for demand in found["conflict"] if (line := demand["line"]) is not None}
    crossing = 1 + CONTRACT[: CONTRACT.index("name: Crossing")].count("\n")
    assert lines <= set(range(crossing, crossing + 4))
    assert found["conflict"]
    assert all(demand["demand"] for demand in found["conflict"])
    assert found["relaxations"]


def test_people_read_the_conflict_with_file_and_line(plan, capsys):
    plan.write_text(IMPOSSIBLE, encoding="utf-8")
    assert main(["plan", str(plan)]) == 1
    assert "tide.yaml:" in capsys.readouterr().out


def test_a_bad_file_is_exit_2_with_line_and_column(plan, capsys):
    plan.write_text(CONTRACT.replace("bars: 16", "bras: 16"), encoding="utf-8")
    error = _json(capsys, "plan", str(plan), code=2)["error"]
    assert error["line"] == 1 + CONTRACT[: CONTRACT.index("bars: 16")].count("\n")
    assert "bars" in error["message"]


def test_keep_keeps_what_was_printed_and_settled_sections_stay(plan, capsys):
    printed = _json(capsys, "plan", str(plan), "--keep")
    kept = plan.with_name("tide.yaml.solved.json")
    assert json.loads(kept.read_text(encoding="utf-8")) == printed
    shorter = CONTRACT.replace('{about: "2:30", at_least: 24 bars, at_most: 96 bars}', "{about: 24 bars}")
    plan.write_text(shorter.replace("energy: [20, 90]", "settled: true"), encoding="utf-8")
    again = _json(capsys, "plan", str(plan))
    assert [s["bars"] for s in again["sections"]][:2] == [16, 72]


def test_settled_without_a_kept_solution_is_refused(plan, capsys):
    plan.write_text(CONTRACT.replace("energy: [20, 90]", "settled: true"), encoding="utf-8")
    assert "settled" in _json(capsys, "plan", str(plan), code=2)["error"]["message"]


def test_people_see_every_section_within_80_columns(plan, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["plan", str(plan)]) == 0
    shown = capsys.readouterr().out
    assert all(name in shown for name in ("Prelude", "Crossing", "Landfall", "End", "2:30", "proven"))
    assert max(map(len, shown.splitlines())) <= 80


def test_the_same_file_gives_the_same_bytes(plan, capsys):
    assert _json(capsys, "plan", str(plan)) == _json(capsys, "plan", str(plan))
