"""What the command ``schema`` promises."""

from __future__ import annotations

import json

import jsonschema
import pytest

from bridge import hostmap
from bridge.cli.main import main
from bridge.plan import schema


def test_schema_prints_the_plans_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    by_default = capsys.readouterr().out
    assert main(["schema", "plan"]) == 0
    assert capsys.readouterr().out == by_default
    assert json.loads(by_default) == schema()
    jsonschema.Draft202012Validator.check_schema(json.loads(by_default))


def test_schema_host_prints_the_host_maps_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "host"]) == 0
    assert json.loads(capsys.readouterr().out) == hostmap.schema()


def test_schema_with_json_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "plan", "--json"]) == 0
    out = capsys.readouterr().out
    assert out.count("\n") == 1
    assert json.loads(out) == schema()


def test_schema_prints_ascii_for_any_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    main(["schema"])
    assert capsys.readouterr().out.isascii()


def test_an_unknown_kind_is_bad_usage_that_lists_the_known(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "song"]) == 2
    assert "there are plan, host" in capsys.readouterr().err


def test_help_shows_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", "--help"]) == 0
    assert "pulsebridge schema plan >" in capsys.readouterr().out
