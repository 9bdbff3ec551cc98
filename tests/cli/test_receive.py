"""What ``receive --replay`` promises: a JSON line for each input, and bad recordings refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.cli.main import main

MAP = "examples/hosts/practice-rig.yaml"
KEYS = ["at", "playing", "quarters", "bpm", "source", "locked"]


def replay(tmp_path, capsys, lines, *options):
    path = tmp_path / "recording.jsonl"
    path.write_text("".join(f"{line if isinstance(line, str) else json.dumps(line)}\n" for line in lines))
    code = main(["receive", "--replay", str(path), *options])
    captured = capsys.readouterr()
    return code, [json.loads(line) for line in captured.out.splitlines()], captured.err


def clock(ticks, *, first=0.01, bpm=120):
    return [{"at": first + n * 2.5 / bpm, "midi": "F8"} for n in range(ticks)]


@pytest.mark.parametrize("header", [[], [{"pulsebridge_recording": 1}]])
def test_each_input_gives_one_line_in_order(tmp_path, capsys, header):
    inputs = [{"at": 0.0, "midi": "FA"}, *clock(241), {"at": 5.02, "midi": "FC"}]
    code, lines, _ = replay(tmp_path, capsys, header + inputs, "--json")
    assert code == 0
    assert [line["at"] for line in lines] == [line["at"] for line in inputs]
    assert all(list(line) == KEYS for line in lines)
    assert lines[241]["playing"] is True
    assert lines[241]["quarters"] == pytest.approx(10, abs=1e-3)
    assert lines[241]["bpm"] == pytest.approx(120, rel=1e-3)
    assert lines[241]["source"] == "clock"
    assert lines[241]["locked"] is True
    assert lines[242]["playing"] is False


def test_what_does_not_apply_is_null(tmp_path, capsys):
    _, lines, _ = replay(tmp_path, capsys, [{"at": 0, "midi": "90 40 7F"}], "--json")
    assert lines == [
        {"at": 0.0, "playing": False, "quarters": None, "bpm": None, "source": None, "locked": False}
    ]


def test_osc_is_understood_by_the_host_map(tmp_path, capsys):
    inputs = [
        {"at": 0.0, "osc": ["/rig/speed", "f", 90]},
        {"at": 0.1, "osc": ["/rig/where", "f", 8.0]},
        {"at": 0.2, "osc": ["/rig/rolling", "T"]},
        *({"at": 0.2 + n / 10, "osc": ["/rig/where", "f", 8 + n * 0.15]} for n in range(1, 30)),
    ]
    code, lines, _ = replay(tmp_path, capsys, inputs, "--host", MAP, "--json")
    assert code == 0
    assert lines[1]["quarters"] == 8.0
    assert lines[-1]["playing"] is True
    assert lines[-1]["quarters"] == pytest.approx(8 + 29 * 0.15, abs=0.01)
    assert (lines[-1]["bpm"], lines[-1]["source"], lines[-1]["locked"]) == (90.0, "osc", True)


def test_osc_without_a_map_is_counted_and_said(tmp_path, capsys):
    code, lines, err = replay(tmp_path, capsys, [{"at": 0, "osc": ["/x", "i", 1]}])
    assert (code, len(lines)) == (0, 1)
    assert "--host MAP" in err


def test_packets_that_could_not_be_read_are_counted(tmp_path, capsys):
    code, lines, err = replay(tmp_path, capsys, [{"at": 0, "raw": "2F00"}, {"at": 1, "raw": "FF"}])
    assert (code, len(lines)) == (0, 2)
    assert "2 unreadable" in err


def test_what_happened_is_told(tmp_path, capsys):
    _, _, err = replay(tmp_path, capsys, [{"at": 0, "midi": "FA"}, *clock(5), {"at": 1, "midi": "FC"}])
    assert "clock started" in err
    assert "clock stopped" in err


def test_an_at_that_falls_is_a_bad_file(tmp_path, capsys):
    code, lines, err = replay(tmp_path, capsys, [{"at": 1, "midi": "F8"}, {"at": 0.5, "midi": "F8"}])
    assert (code, len(lines)) == (2, 1)
    assert "recording.jsonl:2" in err
    assert "falls from 1 to 0.5" in err


@pytest.mark.parametrize(
    "line",
    [
        "F8",
        "[1]",
        '{"midi": "F8"}',
        '{"at": true, "midi": "F8"}',
        '{"at": NaN, "midi": "F8"}',
        '{"at": 1e400, "midi": "F8"}',
        '{"at": 1}',
        '{"at": 1, "midi": "F8", "raw": "00"}',
        '{"at": 1, "midi": "G8"}',
        '{"at": 1, "midi": 8}',
        '{"at": 1, "osc": ["/x"]}',
        '{"at": 1, "osc": ["/x", "ff", 1.0]}',
        '{"at": 1, "osc": ["/x", "b", "zz"]}',
        '{"at": 1, "osc": ["/x", "f", 1.0, 2.0]}',
        '{"at": 1, "osc": "/x"}',
        '{"pulsebridge_recording": 2}',
        "[" * 5000,
    ],
)
def test_a_line_that_is_none_is_a_bad_file(tmp_path, capsys, line):
    code, _, err = replay(tmp_path, capsys, [line])
    assert code == 2
    assert "recording.jsonl:1" in err
    assert "Traceback" not in err


def test_a_missing_file_and_none_at_all_are_bad_usage(capsys):
    assert main(["receive", "--replay", "no such file.jsonl"]) == 2
    assert main(["receive"]) == 2


def test_a_recording_of_an_hour_takes_seconds(tmp_path, capsys):
    path = Path(tmp_path / "long.jsonl")
    with path.open("w") as file:
        file.write('{"at": 0, "midi": "FA"}\n')
        file.writelines(json.dumps(line) + "\n" for line in clock(5000))
    assert main(["receive", "--replay", str(path), "--json"]) == 0
    last = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert last["quarters"] == pytest.approx(4999 / 24, abs=1e-3)


PLAN = """
pulsebridge: 1
title: Slack Water
tempo: 90
meter: 4/4
layers: {band: {cycle: 1 bar}}
sections: [{name: Prelude, layers: [band], bars: 2}, {name: Ebb, layers: [band], bars: 4, tempo: 120}]
"""


def test_with_the_plan_a_place_told_in_time_is_one_in_the_music(tmp_path, capsys):
    (tmp_path / "slack.yaml").write_text(PLAN)
    (tmp_path / "dock.yaml").write_text(
        "pulsebridge_host: 1\nname: slip dock\nhears:\n"
        "  position: {address: /slip/at, arg: 0, unit: seconds}\n"
    )
    words = ["--host", str(tmp_path / "dock.yaml"), "--json"]
    inputs = [{"at": 0.0, "osc": ["/slip/at", "d", 2 * 240 / 90 + 2.0]}]
    _, (blind,), _ = replay(tmp_path, capsys, inputs, *words)
    code, (known,), _ = replay(tmp_path, capsys, inputs, *words, "--plan", str(tmp_path / "slack.yaml"))
    assert code == 0
    assert known["quarters"] == pytest.approx(12, abs=1e-9)
    assert (blind["quarters"], known["bpm"]) == (pytest.approx(2 * 22 / 3), 120.0)


@pytest.mark.parametrize(("figure", "ahead"), [("clock=10", 0.02), ("clock=-12.5ms", -0.025), ("osc=10", 0)])
def test_a_delay_puts_the_place_of_its_source_ahead(tmp_path, capsys, figure, ahead):
    inputs = [{"at": 0.0, "midi": "FA"}, *clock(241)]
    _, plain, _ = replay(tmp_path, capsys, inputs, "--json")
    _, late, _ = replay(tmp_path, capsys, inputs, "--json", "--delay", figure)
    assert late[-1]["quarters"] - plain[-1]["quarters"] == pytest.approx(ahead, abs=1e-4)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["tide=3"], "there is no source 'tide'; there are clock, timecode, osc"),
        (["clock"], "names no milliseconds"),
        (["clock=soon"], "the milliseconds cannot be 'soon'"),
        (["clock=--3"], "cannot be '-3'"),
        (["clock=2000.1"], "a delay is -2000 to 2000 ms"),
        (["clock=1", "clock=2"], "given twice"),
    ],
)
def test_a_delay_that_is_none_is_bad_usage(capsys, words, said):
    assert main(["receive", "--midi", "x", *(w for word in words for w in ("--delay", word))]) == 2
    assert said in capsys.readouterr().err
