"""The README is true: its commands run as they stand, in order, and say what it says."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli.table import COMMANDS
from bridge.plan import load

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PULSEBRIDGE = [sys.executable, "-m", "bridge"]


def _section(heading: str) -> str:
    return README.split(f"\n## {heading}\n")[1].split("\n## ")[0]


def _fences(text: str, kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```$", text, flags=re.DOTALL | re.MULTILINE)


@pytest.mark.parametrize("heading", ["Run it", "Test it"])
def test_each_of_the_two_headings_has_one_command_line_and_its_powershell_form(heading):
    (line,) = _fences(_section(heading), "sh")
    (power,) = _fences(_section(heading), "powershell")
    assert len(line.splitlines()) == len(power.splitlines()) == 1
    assert line.startswith("python3 -m venv .venv && ")
    assert "&&" not in power


def test_the_tutorial_runs_as_it_stands(tmp_path):
    tutorial = _section("Five minutes with it")
    (plan,) = _fences(tutorial, "yaml")
    (tmp_path / "tide.yaml").write_text(plan, encoding="utf-8")
    said = []
    host = None
    try:
        for line in (line for fence in _fences(tutorial, "sh") for line in fence.splitlines()):
            words = shlex.split(line)
            assert words[0] == "pulsebridge"
            if words[1] == "practice-host":
                host = subprocess.Popen(
                    [*PULSEBRIDGE, *words[1:], "--for", "60s"],
                    cwd=tmp_path,
                    stdout=subprocess.PIPE,
                    text=True,
                )
                assert "ready" in host.stdout.readline()
                continue
            done = subprocess.run(
                [*PULSEBRIDGE, *words[1:]], cwd=tmp_path, capture_output=True, text=True, check=False
            )
            assert done.returncode == 0, (line, done.stderr)
            said.append(done.stdout)
    finally:
        if host is not None:
            host.terminate()
            host.communicate()
    assert "72 bars, 2:30" in said[0]
    assert "12 bars = 192 sixteenths" in said[1]
    assert "17/16" in said[2]
    assert "4 of 4 markers verified" in said[-1]
    assert all(
        (tmp_path / name).stat().st_size
        for name in ("tide.mid", "tide.csv", "tide.wav", "tide.yaml.laid.json")
    )


def test_the_commands_table_names_every_command():
    shown = set(re.findall(r"^\| `([a-z-]+)", _section("The commands"), flags=re.MULTILINE))
    assert shown == set(COMMANDS)


def test_the_plan_files_tables_name_every_key():
    from bridge.plan import schema

    text = _section("The plan file")
    told = set(re.findall(r"`([a-z_]+)", text))
    keys = set(schema()["properties"]) | set(_section_keys(schema()))
    assert keys <= told


def _section_keys(schema: dict) -> list[str]:
    for definition in schema["$defs"].values():
        if "runs_on" in definition.get("properties", {}):
            return list(definition["properties"])
    raise AssertionError(f"no section among {list(schema['$defs'])}")


def test_the_tutorials_plan_loads():
    (plan,) = _fences(_section("Five minutes with it"), "yaml")
    assert load(plan).title == "Tide"
