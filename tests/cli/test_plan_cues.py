"""Vamps, free passages and lost cues on the command line: in the JSON, in the table, never silent."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.cli.main import main

PLAN = """\
pulsebridge: 1
tempo: 120
meter: 4/4
layers:
  band: {cycle: 4 bars, player: guitars}
sections:
  - {name: Fog, free: {about: "0:40"}, layers: [band]}
  - name: Still
    layers: [band]
    vamp: {at_least: 12 bars}
    cues:
      - {at: end - 8 bars, say: eight more}
      - {at: bar 50, for: guitars, say: never}
      - {at: meeting 1, send: {program: 1, channel: 1}}
"""
WHY = [
    "note: the cue at 'bar 50' falls nowhere: Still has 12 bars",
    "note: the cue at 'meeting 1' falls nowhere: Still has no full meeting after its start",
]


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "fog.yaml"
    path.write_text(PLAN, encoding="utf-8")
    return path


def test_the_json_tells_what_is_open_and_which_cues_are_lost(
    plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(plan), "--json"]) == 0
    out, err = capsys.readouterr()
    record = json.loads(out)
    assert [(one["vamp"], one["free"]) for one in record["sections"]] == [(False, True), (True, False)]
    assert record["sections"][0]["seconds"] == 40.0
    assert record["lost_cues"] == [
        {"section": "Still", "at": "bar 50", "say": "never", "why": "Still has 12 bars", "line": 13},
        {
            "section": "Still",
            "at": "meeting 1",
            "say": None,
            "why": "Still has no full meeting after its start",
            "line": 14,
        },
    ]
    assert all(why in err for why in WHY)


def test_people_read_who_plays_freely_and_what_is_a_vamp(
    plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", str(plan)]) == 0
    out, err = capsys.readouterr()
    assert "free: band" in out
    assert "Still (vamp)" in out
    assert "Cues: 1 of the plan's own." in out
    assert f"{WHY[0]} ({plan}:13:9)" in err


@pytest.mark.parametrize(
    "words",
    [["export", "{plan}", "{folder}/a.csv"], ["check", "{plan}"], ["draw", "{plan}", "{folder}/a.svg"]],
)
def test_every_command_that_solves_says_which_cues_are_lost(
    words: list[str], plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([word.format(plan=plan, folder=tmp_path) for word in words]) == 0
    assert all(why in capsys.readouterr().err for why in WHY[:1])


def test_lengths_that_cannot_be_are_named_in_the_json(plan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan.write_text(PLAN.replace("meter: 4/4\n", 'meter: 4/4\ntotal: {about: "0:50", within: "0:05"}\n', 1))
    assert main(["plan", str(plan), "--json"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert [(one["demand"], one["line"]) for one in record["conflict"]] == [
        ("Fog, a free passage, lasts 0:40", 8),
        ("Still, a vamp, lasts at least 12 bars", 11),
        ("the total is 0:45 to 0:55", 4),
    ]
    assert [one["text"] for one in record["relaxations"]] == [
        "Fog, a free passage, fits with 0:31, not 0:40",
        "Still needs 8 bars fewer (4)",
        "the total needs 9 s more",
    ]
