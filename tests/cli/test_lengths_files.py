"""``lengths --write``: a first idea of two layers as a plan to go on from, and as every kind of file."""

from __future__ import annotations

import csv
import json

import pytest
from mido import MidiFile

from bridge.cli.main import main
from bridge.out.formats import FORMATS
from bridge.plan import load
from bridge.shape import Solved, solve

TWO = ("--layer", "band=4bars", "--layer", "hand drum=3/16")


def write(capsys, *words: str) -> tuple[int, dict]:
    code = main(["lengths", *words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_every_format_and_a_plan_are_written_together(tmp_path, capsys):
    paths = [tmp_path / f"idea{ending}" for ending in (".yaml", *FORMATS)]
    named = [word for path in paths for word in ("--write", str(path))]
    code, found = write(capsys, *TWO, "--tempo", "460.8", *named)
    assert code == 0
    assert [row["file"] for row in found["written"]] == [str(path) for path in paths]
    assert all(
        row["bytes"] == path.stat().st_size > 100 for row, path in zip(found["written"], paths, strict=True)
    )
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(path.name for path in paths)


def test_the_length_nearest_to_the_wish_is_written(tmp_path, capsys):
    table, midi = tmp_path / "idea.csv", tmp_path / "idea.mid"
    write(capsys, *TWO, "--tempo", "115.2", "--about", "2:30", "--write", str(table), "--write", str(midi))
    with table.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["name"], row["bar"], row["seconds"]) for row in rows] == [
        ("First Idea", "1", "0.0"),
        ("End", "73", "150.0"),
    ]
    assert [track.name for track in MidiFile(midi).tracks] == ["band and hand drum", "band", "hand drum"]


def test_without_a_wish_or_a_tempo_the_first_length_at_120_and_that_is_said(tmp_path, capsys):
    _, found = write(capsys, *TWO, "--write", str(tmp_path / "idea.csv"))
    assert "at 120 quarter notes a minute" in found["written"][0]["notes"][-1]
    assert (tmp_path / "idea.csv").read_text().splitlines()[-1].startswith("2,End,13,1,24.0,")


@pytest.mark.parametrize(
    "words",
    [
        [*TWO, "--tempo", "115.2", "--about", "2:30"],
        [*TWO, "--resolve", "band"],
        ["--meter", "2+2+3/8", "--layer", "steps=2+2+3/8", "--layer", "drum=3/16@1/4x73/72"],
        ["--meter", "4/4,7/8", "--layer", "no: #=2bars", "--layer", "潮=5/8", "--layer", "[x]=1/4"],
        ["--tempo", "120", "--layer", "a=1/4", "--layer", "b=1/4x1001/1000", "--within", "40ms"],
    ],
)
def test_the_plan_solves_to_the_length_told_and_so_does_it_with_its_payoff(tmp_path, capsys, words):
    path = tmp_path / "idea.yaml"
    code, found = write(capsys, *words, "--write", str(path))
    assert code == 0
    bars = (found["nearest"] or found["lengths"][0])["bars"]
    text = path.read_text()
    solved = solve(load(text))
    assert isinstance(solved, Solved)
    assert solved.bars == (bars,)
    head, _, rest = text.partition("  # - name: Payoff")
    more = load(head + "  - name: Payoff" + rest.replace("  #   ", "    "))
    assert [section.name for section in more.sections] == ["First Idea", "Payoff"]
    both = solve(more)
    assert isinstance(both, Solved)
    assert both.bars[1] >= bars


def test_the_plan_keeps_cycles_as_they_were_given(tmp_path, capsys):
    path = tmp_path / "idea.yaml"
    more = ("--layer", "bells=3+3+2/8@1/4", "--layer", "keys=12/16x73/72", "--resolve", "band")
    write(capsys, *TWO, *more, "--write", str(path))
    text = path.read_text()
    for line in (
        "  band: {cycle: 4 bars}",
        "  hand drum: {cycle: 3/16}",
        "  bells: {groups: [3, 3, 2], unit: 1/8, start: 1/4}",
        "  keys: {cycle: 3/4, rate: 73/72}",
    ):
        assert line in text.splitlines()


def test_what_exists_is_kept_without_force_and_nothing_else_is_written(tmp_path, capsys):
    mine, other = tmp_path / "mine.yaml", tmp_path / "other.mid"
    mine.write_text("mine")
    words = ["lengths", *TWO, "--write", str(other), "--write", str(mine)]
    assert main(words) == 2
    assert "exists and was left as it is" in capsys.readouterr().err
    assert mine.read_text() == "mine"
    assert not other.exists()
    assert main([*words, "--force"]) == 0
    assert mine.read_text().startswith("# A first idea")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([*TWO, "--write", "idea.doc"], "ends in '.doc'"),
        ([*TWO, "--write", "idea"], "has no ending"),
        ([*TWO, "--force"], "--force goes with --write"),
        ([*TWO, "--write", "idea.mid", "--write", "idea.mid"], "named twice"),
        ([*TWO, "--bars", "72", "--lasts", "2:30", "--write", "idea.mid"], "--write does not go with"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_written(tmp_path, capsys, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    assert main(["lengths", *words]) == 2
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_where_no_length_is_good_nothing_is_written_and_that_is_said(tmp_path, capsys):
    code = main(
        ["lengths", "--layer", "a=1/4", "--layer", "b=1/4@1/8", "--write", str(tmp_path / "idea.mid")]
    )
    assert code == 1
    assert "nothing was written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
