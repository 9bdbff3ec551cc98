"""``lay --pull``: what was moved in the host comes back, from each of the invented hosts."""

import json

import pytest

from bridge.cli.main import main
from bridge.practice import Weather
from tests.lay.hosts import REPORTING, NameWall, Stage, TallyDesk

PLAN = """# the tide goes out
pulsebridge: 1
tempo: 120
meter: 4/4
origin: {bar: 3}
layers: {band: {cycle: 4 bars}, hand drum: {cycle: 3/16}}
sections:
  - {name: Prelude, layers: [band], bars: 4}            # short
  - {name: Crossing, layers: [band, hand drum], length: {about: 24 bars}}   # long
  - {name: Landfall, layers: [band], length: {about: 8 bars, at_most: 40 bars}}
"""
USERS = (("my idea", 8.5), ("Ebb", 70.0))
BAD = Weather(lose=0.25, double=0.25, reorder=0.25, delay=0.003, seed=3)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path / "state"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "song.yaml").write_text(PLAN)
    return tmp_path


def run(capsys, stage: Stage, *words: str) -> tuple[int, dict]:
    code = main(["lay", "song.yaml", "--host", str(stage.path), "--json", *words])
    return code, json.loads(capsys.readouterr().out)


def move(stage: Stage, name: str, bars: int) -> None:
    marks = stage.program.marks
    marks[:] = sorted(((n, at + 4 * bars * (n == name)) for n, at in marks), key=lambda mark: mark[1])


@pytest.mark.parametrize("kind", REPORTING, ids=lambda kind: kind.map)
def test_what_the_user_moved_is_told_with_the_nearest_good_places_on_a_bad_network(folder, capsys, kind):
    with Stage(kind(USERS), folder, weather=BAD) as stage:
        assert run(capsys, stage)[0] == 0
        code, told = run(capsys, stage, "--pull")
        assert (code, told["agrees"], told["others"], told["taken"]) == (0, True, 2, None)
        move(stage, "Landfall", 4)
        before = stage.program.state()
        code, told = run(capsys, stage, "--pull")
        assert code == 0
        (landfall,) = [one for one in told["markers"] if one["standing"] != "in_place"]
        assert landfall == {
            "name": "Landfall", "standing": landfall["standing"], "planned_bar": 31, "bar": 35, "at": "35.1",
            "moved_bars": 4, "home": False, "nearest_bars": [31, 43],
        }  # fmt: skip
        assert [one["host_bars"] for one in told["sections"]] == [4, 28, 4]
        assert stage.program.state() == before


def test_the_lengths_of_the_host_are_taken_into_the_plan_in_place(folder, capsys):
    with Stage(TallyDesk(USERS), folder) as stage:
        run(capsys, stage)
        move(stage, "Landfall", 12)
        move(stage, "End", 16)
        code, told = run(capsys, stage, "--pull", "--take")
        assert (code, told["refused"]) == (0, None)
        assert told["taken"] == [
            {"name": "Crossing", "from": 24, "to": 36}, {"name": "Landfall", "from": 8, "to": 12},
        ]  # fmt: skip
        text = (folder / "song.yaml").read_text()
        assert text == PLAN.replace("about: 24 bars", "about: 36 bars").replace("about: 8", "about: 12")
        code, told = run(capsys, stage)
        assert (code, told["kept"], told["placed"], told["moved"]) == (0, 4, 0, 0)


@pytest.mark.parametrize(
    ("moves", "why"),
    [
        ({"Landfall": 4}, "could not be satisfied"),
        ({"Prelude": 1}, "origin"),
        ({"Landfall": 0.25}, "off the barline"),
        ({"Landfall": -30}, "ends before|end before"),
    ],
)
def test_lengths_that_the_plan_cannot_have_are_refused_and_the_file_stays(folder, capsys, moves, why):
    import re

    with Stage(TallyDesk(USERS), folder) as stage:
        run(capsys, stage)
        for name, bars in moves.items():
            move(stage, name, bars)
        code, told = run(capsys, stage, "--pull", "--take")
    assert (code, told["taken"]) == (1, [])
    assert re.search(why, told["refused"])
    assert (folder / "song.yaml").read_text() == PLAN


def test_in_words_it_says_what_was_moved_and_where_it_would_be_good(folder, capsys):
    with Stage(TallyDesk(USERS), folder) as stage:
        run(capsys, stage)
        move(stage, "Landfall", 4)
        assert main(["lay", "song.yaml", "--host", str(stage.path), "--pull"]) == 0
        out = capsys.readouterr().out
    assert "4 bars later, to bar 35: the layers are not home there; nearest good places 31 and 43" in out


def test_a_silent_host_and_options_that_exclude_each_other_are_refused(folder, capsys):
    stage = Stage(NameWall(), folder)
    assert run(capsys, stage, "--take")[0] == 2
    assert run(capsys, stage, "--pull", "--dry-run")[0] == 2
    stage = Stage(TallyDesk(), folder)
    code, told = run(capsys, stage, "--pull")
    assert (code, told["error"]["kind"]) == (3, "peer")


def test_changes_between_a_kept_solution_and_the_plan(folder, capsys):
    assert main(["plan", "song.yaml", "--keep", "--json"]) == 0
    (folder / "song.yaml").write_text(PLAN.replace("bars: 4}", "bars: 8}").replace("about: 24", "about: 12"))
    capsys.readouterr()
    assert main(["changes", "song.yaml.solved.json", "song.yaml", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["changes"] == [
        {"do": "insert", "bars": 4, "at_bar": 7, "section": "Prelude", "why": "longer"},
        {"do": "cut", "bars": 12, "at_bar": 23, "section": "Crossing", "why": "shorter"},
    ]
    assert (told["old_bars"], told["new_bars"]) == (36, 28)
    assert main(["changes", "song.yaml.solved.json", "song.yaml"]) == 0
    assert "insert 4 bars at 7" in capsys.readouterr().out
