"""The frame of the command line: exit codes, errors for people and for programs."""

from __future__ import annotations

import json

import pytest

from bridge.cli import main as frame
from bridge.cli.main import main
from bridge.cli.table import COMMANDS
from bridge.errors import PeerError, PlanError, Where


def _error_of(capsys) -> dict:
    return json.loads(capsys.readouterr().out)["error"]


def test_no_words_and_help_list_every_command_with_exit_code_0(capsys):
    for words in ([], ["--help"]):
        assert main(words) == 0
        shown = capsys.readouterr().out
        assert all(name in shown for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name, capsys):
    assert main([name, "--help"]) == 0
    shown = capsys.readouterr().out
    assert f"pulsebridge {name}" in shown.split("Example")[1]


def test_an_unknown_command_is_bad_usage_and_names_the_nearest(capsys):
    assert main(["lenghts"]) == 2
    assert "Did you mean 'lengths'?" in capsys.readouterr().err


def test_the_argument_parser_speaks_json_too(capsys):
    assert main(["plan", "--json", "--no-such-option"]) == 2
    error = _error_of(capsys)
    assert error["kind"] == "usage"
    assert "--no-such-option" in error["message"]
    assert error["line"] is None
    assert error["column"] is None


def test_a_missing_file_is_bad_usage(tmp_path, capsys):
    assert main(["plan", str(tmp_path / "none.yaml"), "--json"]) == 2
    assert "cannot be read" in _error_of(capsys)["message"]


def _fails_with(monkeypatch, error: BaseException) -> None:
    def fail(_words: list[str]) -> int:
        raise error

    monkeypatch.setattr(frame, "_run", fail)


def test_an_error_in_a_file_shows_its_place_with_a_caret(monkeypatch, capsys):
    where = Where(line=3, column=8, file="tide.yaml", text="tempo: fast")
    _fails_with(monkeypatch, PlanError("a tempo cannot be 'fast'", hint="Write digits.", where=where))
    assert main(["plan"]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert lines == [
        "tide.yaml:3:8: a tempo cannot be 'fast'",
        "    tempo: fast",
        "           ^",
        "Write digits.",
    ]


def test_a_host_that_fails_is_exit_3(monkeypatch, capsys):
    _fails_with(monkeypatch, PeerError("the host is silent"))
    assert main(["lay", "--json"]) == 3
    assert _error_of(capsys)["kind"] == "peer"


def test_an_interruption_is_exit_130(monkeypatch):
    _fails_with(monkeypatch, KeyboardInterrupt())
    assert main(["plan"]) == 130


def test_a_fault_of_ours_is_exit_4_and_leaves_a_report(monkeypatch, tmp_path, capsys):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    _fails_with(monkeypatch, ZeroDivisionError("oops"))
    assert main(["plan", "x.yaml"]) == 4
    (report,) = tmp_path.glob("pulsebridge-report-*.txt")
    assert "ZeroDivisionError: oops" in report.read_text(encoding="utf-8")
    shown = capsys.readouterr().err
    assert report.name in shown
    assert "Traceback" not in shown


def test_names_cannot_move_the_cursor(monkeypatch, capsys):
    _fails_with(monkeypatch, PlanError("there is no layer '\x1b[2J'"))
    main(["plan"])
    assert "\\x1b[2J" in capsys.readouterr().err
