"""The quick reading of command lines gives what typer gives, or leaves it to typer."""

from __future__ import annotations

import subprocess
import sys
from typing import Annotated

import pytest
import typer
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.main import get_command

from bridge.cli import find, lengths
from bridge.cli.plain_words import read_plainly

WORDS = [
    "--layer",
    "a=3/16",
    "--json",
    "--why",
    "--meter",
    "4/4",
    "--up-to",
    "--up-to=9",
    "--tempo",
    "-1",
    "x",
]


def through_typer(words):
    heard = {}

    def command(
        *,
        layer: Annotated[list[str] | None, typer.Option()] = None,
        meter: Annotated[str, typer.Option()] = "4/4",
        up_to: Annotated[str | None, typer.Option()] = None,
        tempo: Annotated[str | None, typer.Option()] = None,
        why: Annotated[bool, typer.Option("--why")] = False,
        json: Annotated[bool, typer.Option("--json")] = False,
    ) -> None:
        heard.update(locals())

    app = typer.Typer(add_completion=False)
    app.command("it")(command)
    try:
        get_command(app).main(args=words, standalone_mode=False)
    except typer.TyperException:
        return None, command
    heard.pop("heard", None)
    return heard, command


# This file's annotations are text, as everywhere; typer reads them with these names in scope.
@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(WORDS), max_size=6))
def test_whatever_is_read_quickly_is_what_typer_reads(words):
    expected, command = through_typer(list(words))
    ours = read_plainly(command, words)
    if ours is not None:
        assert ours == {**expected, "layer": expected["layer"] or None}
    elif expected is not None:
        assert "x" in words or not words


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (lengths.command, ["--help"]),
        (lengths.command, ["--layer"]),
        (lengths.command, ["stray"]),
        (lengths.command, ["--json=yes"]),
        (lengths.command, ["--no-such-option"]),
        (find.command, ["--bars", "68"]),
    ],
)
def test_what_is_not_well_formed_is_left_to_typer(command, words):
    assert read_plainly(command, words) is None


def test_a_command_with_other_types_is_left_to_typer():
    def other(*, port: Annotated[int, typer.Option()] = 1) -> None:
        """Take a number."""

    assert read_plainly(other, []) is None


@pytest.mark.parametrize(
    "words",
    ["lengths --layer a=3/16 --why --about 9bars", "find --bars 68 --layer band=4bars --for drum --json"],
)
def test_lengths_and_find_load_nothing_heavy(words):
    script = (
        "import sys\nfrom bridge.cli.main import main\n"
        f"assert main({words.split()!r}) == 0\n"
        "heavy = {'pydantic', 'numpy', 'asyncio', 'mido', 'rich', 'yaml', 'soundfile', 'pythonosc'}\n"
        "found = sorted(m for m in sys.modules if m in heavy or m.startswith('bridge.plan'))\n"
        "sys.exit(f'loaded: {found}' if found else 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
