"""Recipes: each builds a plan that solves, lays on the practice host and exports."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from bridge import Solved, good_lengths, load, solve, unroll
from bridge.cli.main import main
from bridge.hostmap import Address
from bridge.osc import Port
from bridge.practice import PracticeHost, SongTimeline

ROOT = Path(__file__).parents[2]
RECIPES = sorted(path.stem for path in (ROOT / "recipes").glob("*.py"))
ANY = Address("127.0.0.1", 0)


def ask(capsys, *words: str) -> tuple[int, dict]:
    code = main(["recipe", *words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def solved(capsys, *words: str):
    code, found = ask(capsys, *words)
    assert code == 0
    plan = load(found["plan"])
    outcome = solve(plan)
    assert isinstance(outcome, Solved)
    assert outcome.proven
    return unroll(plan, outcome.bars)


def test_all_recipes_are_listed_with_their_settings(capsys):
    _, found = ask(capsys)
    assert [one["name"] for one in found["recipes"]] == RECIPES == ["earned", "realign", "slide", "stagger"]
    assert found["recipes"][1]["settings"]["tempo"] == "115.2"
    assert main(["recipe"]) == 0
    shown = capsys.readouterr().out
    assert "tightens=hand drum" in shown
    assert max(map(len, shown.splitlines())) <= 80


@pytest.mark.parametrize("name", RECIPES)
def test_every_recipe_solves_with_everybody_home(capsys, name):
    song = solved(capsys, name)
    for placed in song.sections:
        assert placed.resolved, placed.name


@pytest.mark.parametrize("name", RECIPES)
def test_every_recipe_is_also_a_script_that_prints_the_same_plan(capsys, name):
    script = ROOT / "recipes" / f"{name}.py"
    done = subprocess.run([sys.executable, script], capture_output=True, text=True, check=True, cwd=ROOT)
    assert main(["recipe", name]) == 0
    assert done.stdout == capsys.readouterr().out


@pytest.mark.parametrize("name", RECIPES)
def test_every_recipe_is_laid_on_the_practice_host_and_exported(capsys, tmp_path, monkeypatch, name):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    song = solved(capsys, name)
    plan = tmp_path / "made.yaml"
    assert main(["recipe", name, "--out", str(plan)]) == 0
    assert main(["export", str(plan), str(tmp_path / "made.mid"), str(tmp_path / "made.csv")]) == 0
    for section in song.sections:
        assert section.name in (tmp_path / "made.csv").read_text(encoding="utf-8")
    with Port(ANY) as probe:
        ours = Address(*probe.place)
    with PracticeHost(SongTimeline(song), listen_on=ANY, send_to=ours) as host:
        text = (ROOT / "examples" / "hosts" / "practice-rig.yaml").read_text(encoding="utf-8")
        text = text.replace("127.0.0.1:9001", f"127.0.0.1:{host.port.place[1]}")
        text = text.replace("127.0.0.1:9000", f"127.0.0.1:{ours.port}")
        rig = tmp_path / "rig.yaml"
        rig.write_text(text, encoding="utf-8")
        capsys.readouterr()
        assert main(["lay", str(plan), "--host", str(rig), "--json"]) == 0
        laid = json.loads(capsys.readouterr().out)
        assert laid["failed"] == []
        assert laid["verified"] == len(host.notes) == len(song.markers)
        assert {note.name for note in host.notes} == {marker.name for marker in song.markers}


def test_realign_tightens_with_the_others_going_on_and_pays_off(capsys):
    song = solved(capsys, "realign", "--set", "tempo=120", "--set", "ratio=3/2")
    crossing, landfall = song.sections
    (drum,) = (part for part in crossing.parts if part.layer.name == "hand drum")
    # 8 turns each of 5, 4, 3, 2 eighths are 14 bars of 4/4 (common practice, no source)
    assert [(str(stage.cycle), stage.turns) for stage in drum.tightened.stages] == [
        ("5/8", 8),
        ("1/2", 8),
        ("3/8", 8),
        ("1/4", 8),
    ]
    assert all(song.bars.bar_beat(place).beat == 1 for place, _ in crossing.stages())
    assert crossing.resolved
    assert landfall.length.whole_notes >= crossing.length.whole_notes * 3 / 2


def test_stagger_lets_each_enter_where_all_before_it_are_home(capsys):
    song = solved(capsys, "stagger", "--set", "layers=band=4 bars, hand drum=3/16, keys=5/8")
    for number, placed in enumerate(song.sections, start=1):
        playing = [part.layer for part in placed.parts]
        assert len(playing) == number
        assert placed.bars in good_lengths(placed.section.meters, playing)


def test_slide_comes_home_after_the_bars_that_were_asked_for(capsys):
    song = solved(capsys, "slide", "--set", "bars=27 bars")
    assert [section.bars for section in song.sections if section.name == "Apart"] == [27]


def test_slide_refuses_bars_after_which_it_is_not_home(capsys):
    assert main(["recipe", "slide", "--set", "bars=50 bars"]) == 1
    assert "Take 51 bars" in capsys.readouterr().err


def test_earned_takes_the_cycle_that_meets_once(capsys):
    _, found = ask(capsys, "earned", "--set", "about=2/1")
    assert "hand drum: {cycle: 17/8}" in found["plan"]
    assert found["settings"]["about"] == "2/1"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["realing"], 2, "Did you mean 'realign'?"),
        (["realign", "--set", "tempos=3"], 2, "Did you mean 'tempo'?"),
        (["realign", "--set", "tempo"], 2, "NAME=VALUE"),
        (["realign", "--set", "tempo=fast"], 2, "cannot be 'fast'"),
        (["realign", "--set", "tempo=0"], 2, "1 to 1000"),
        (["realign", "--set", "layers=band"], 2, "NAME=CYCLE"),
        (["realign", "--set", "tightens=bells"], 1, "there are band, hand drum"),
        (
            ["realign", "--set", "layers=band=4 bars, hand drum=3/16, odd=997/64"],
            1,
            "brings band, hand drum, odd home together",
        ),
        (["realign", "--set", "tightening=100000 bars"], 1, "within 62 bars"),
        (
            ["realign", "--set", "tightening=100000 bars", "--set", "at_most=80:00:00"],
            2,
            "at most 1048576",
        ),
        (["earned", "--set", "newcomer=band"], 1, "one of the others already"),
        (["earned", "--set", "bars=67 bars"], 1, "no cycle first meets"),
        (["stagger", "--set", "each=0"], 2, "recipe stagger:"),
        (["--set", "tempo=120"], 2, "no recipe is named"),
    ],
)
def test_a_recipe_refuses_with_what_to_do(capsys, words, code, said):
    assert main(["recipe", *words]) == code
    assert said in capsys.readouterr().err


def test_a_file_that_exists_is_kept(capsys, tmp_path):
    kept = tmp_path / "mine.yaml"
    kept.write_text("mine", encoding="utf-8")
    assert main(["recipe", "slide", "--out", str(kept)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert kept.read_text(encoding="utf-8") == "mine"
