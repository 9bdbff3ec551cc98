"""The recorded hour in the examples: what the follower makes of it, against where the host was."""

from __future__ import annotations

import gzip
import json
import runpy
from collections.abc import Iterator

import pytest

from bridge.cli.main import main
from bridge.store import shipped

FOLDER = shipped("examples/recordings")
RECORDING = FOLDER / "evening.jsonl.gz"
HALF_A_TICK = 0.5 / 24


@pytest.fixture(scope="module")
def made():
    """The script that made the files, run again."""
    module = runpy.run_path(str(FOLDER / "evening.py"))
    host = module["evening"]()
    return module["recording"](host), module["truth"](host)


def test_the_script_makes_the_files_that_are_there(made):
    recording, truth = made
    assert gzip.decompress(RECORDING.read_bytes()).decode() == recording
    assert (FOLDER / "evening-truth.jsonl").read_text(encoding="utf-8") == truth


def moments(lines: list[str]) -> Iterator[tuple[dict, dict]]:
    """Pair each stated moment with the line that the replay wrote for it."""
    stated = (FOLDER / "evening-truth.jsonl").read_text(encoding="utf-8").splitlines()
    inputs = gzip.decompress(RECORDING.read_bytes()).decode().splitlines()[1:]
    told = [line for line, given in zip(lines, inputs, strict=True) if '"midi": "FE"' in given]
    return zip(map(json.loads, stated), map(json.loads, told), strict=True)


def test_the_hour_is_followed_to_half_a_tick_at_every_stated_moment(capsys):
    rig = shipped("examples/hosts/practice-rig.yaml")
    assert main(["receive", "--replay", str(RECORDING), "--host", str(rig), "--json"]) == 0
    lines = capsys.readouterr().out.splitlines()
    count = 0
    for truth, told in moments(lines):
        count += 1
        assert told["at"] == truth["at"]
        assert (told["playing"], told["locked"]) == (truth["playing"], truth["locked"]), truth
        if truth["quarters"] is not None:
            assert told["quarters"] == pytest.approx(truth["quarters"], abs=HALF_A_TICK), truth
    assert count > 60
