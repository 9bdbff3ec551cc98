"""``check``: its JSON, its exit codes, and what people read."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from bridge.cli.main import main
from bridge.form import RULES
from tests.form.plans import GOOD, WEAK

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "low-tide-relay.yaml"
README = (ROOT / "README.md").read_text(encoding="utf-8").split("\n## Readings on the form\n")[1]
KEYS = {
    "name",
    "rule",
    "figures",
    "line",
    "section",
    "sections",
    "remedy",
    "change",
    "source",
    "accepted",
    "because",
}


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "small.yaml"
    path.write_text(WEAK["short payoff"], encoding="utf-8")
    return path


def _json(capsys, *words: str, code: int = 0) -> dict:
    assert main(["check", *words, "--json"]) == code
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("name", WEAK)
def test_every_reading_has_all_keys_and_stands_in_the_file_where_it_says(name, plan, capsys):
    plan.write_text(WEAK[name], encoding="utf-8")
    (reading,) = _json(capsys, str(plan))["readings"]
    assert set(reading) == KEYS
    assert reading["name"] == name
    assert reading["rule"] == RULES[name].rule
    assert reading["source"] == RULES[name].source
    assert isinstance(reading["figures"]["found"], float)
    assert reading["remedy"].endswith(".")
    line = WEAK[name].splitlines()[reading["line"] - 1]
    assert line.startswith(f"  - {{name: {reading['section']}," if reading["section"] else "sections:")


def test_an_accepted_reading_gives_its_reason_and_no_remedy(capsys):
    found = _json(capsys, str(EXAMPLE), "--strict")
    (reading,) = found["readings"]
    assert reading["accepted"] is True
    assert "answers the calm" in reading["because"]
    assert reading["remedy"] is reading["change"] is None
    assert reading["section"] == "Ebb"
    assert found["open"] == 0
    assert found["cannot_tell"] == found["unneeded"] == []
    assert found["new_pairings"]["Landfall"] == 6


def test_strict_is_exit_1_for_what_is_not_accepted_and_0_otherwise(plan, capsys):
    assert main(["check", str(plan)]) == 0
    assert main(["check", str(plan), "--strict"]) == 1
    plan.write_text(GOOD, encoding="utf-8")
    assert main(["check", str(plan), "--strict"]) == 0
    accept = 'accept: {reading: short payoff, because: "it breaks off"}\nsections:'
    plan.write_text(WEAK["short payoff"].replace("sections:", accept), encoding="utf-8")
    assert main(["check", str(plan), "--strict"]) == 0


def test_a_plan_that_cannot_be_solved_is_exit_1_and_says_what_cannot_be(plan, capsys):
    plan.write_text(GOOD.replace("bars: 16", "bars: 17"), encoding="utf-8")
    found = _json(capsys, str(plan), code=1)
    assert found["error"]["kind"] == "music"


def test_what_people_read_names_figures_reason_and_remedy_within_80_columns(plan, capsys, monkeypatch):
    monkeypatch.chdir(plan.parent)
    assert main(["check", plan.name]) == 0
    said = capsys.readouterr().out
    assert max(map(len, said.splitlines())) <= 80
    assert "\nshort payoff: Landfall  (small.yaml:13)\n" in said
    flowing = " ".join(said.split())
    assert "Landfall lasts 0:48 after 1:12 of Crossing: 0.67 times as long" in flowing
    assert "worth the wait; one short chorus is not. (common practice, no source)" in flowing
    assert "Try: Landfall: 36 bars instead of 24." in flowing
    assert "accept: {reading: short payoff, because: ...}" in flowing


def test_a_good_plan_is_told_so_in_a_line(plan, capsys):
    plan.write_text(GOOD, encoding="utf-8")
    assert main(["check", str(plan)]) == 0
    assert "nothing to think over" in capsys.readouterr().out.splitlines()[0]


def test_sections_without_energy_are_counted(plan, capsys):
    plan.write_text(GOOD.replace(", energy: 25", ""), encoding="utf-8")
    assert {"reading": "one level", "sections": ["Slack"]} in _json(capsys, str(plan))["cannot_tell"]
    assert main(["check", str(plan)]) == 0
    assert "No energy is given in 1 of 5 sections (Slack)" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("word", ["must", "wrong", "error", "bad", "fail", "never", "should"])
def test_no_rule_is_presented_as_law(word):
    assert not [rule.rule for rule in RULES.values() if re.search(rf"\b{word}\b", rule.rule)]


def test_names_from_the_file_do_not_reach_the_terminal_raw(plan, capsys):
    plan.write_text(WEAK["short payoff"].replace("Crossing", '"Cro[red]ss\\u202eing"'), encoding="utf-8")
    assert main(["check", str(plan)]) == 0
    said = capsys.readouterr().out
    assert "\u202e" not in said
    assert "[red]" in said


def test_the_readmes_example_is_what_check_says(tmp_path, capsys, monkeypatch):
    whole = (ROOT / "README.md").read_text(encoding="utf-8")
    tide = re.search(r"^```yaml\n(pulsebridge: 1.*?)^```$", whole, flags=re.DOTALL | re.MULTILINE)
    monkeypatch.chdir(tmp_path)
    Path("tide.yaml").write_text(tide[1], encoding="utf-8")
    assert main(["check", "tide.yaml"]) == 0
    said = capsys.readouterr().out
    shown = re.search(r"^```\n(.*?)^```$", README, flags=re.DOTALL | re.MULTILINE)
    assert shown[1] in said
    assert "; 4 readings." in said


def test_the_readme_lists_every_reading_with_its_limit():
    rows = dict(re.findall(r"^\| `([a-z ]+)` \|.*\| ([^|]+) \|$", README, flags=re.MULTILINE))
    assert list(rows) == list(RULES)
    for name, told in rows.items():
        rule = RULES[name]
        figures = {_figure(rule.short, rule.measure.value), _figure(rule.long, rule.measure.value)}
        if name not in ("undecided end", "nothing returns", "change away from home"):
            assert all(figure in told for figure in figures), (name, told)


def _figure(value, unit: str) -> str:
    if unit == "share":
        return f"{int(value * 100)} %"
    if unit == "seconds" and value >= 30 and value != 30:
        return f"{int(value // 60)}:{int(value % 60):02d}"
    return str(value)
