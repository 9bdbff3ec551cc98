"""The wheel carries all that the commands need, recipes and examples too."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory) -> Path:
    """A folder with the wheel installed into it, and nothing of the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    subprocess.run(build, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    install = [
        sys.executable,
        "-m",
        "pip",
        "install",
        "-q",
        "--no-deps",
        "--target",
        str(folder / "site"),
        str(wheel),
    ]
    subprocess.run(install, check=True, capture_output=True)
    return folder


def _run(elsewhere: Path, *words: str) -> str:
    environment = {**os.environ, "PYTHONPATH": str(elsewhere / "site")}
    done = subprocess.run(
        [sys.executable, *words], cwd=elsewhere, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_it_is_the_wheels_code_that_runs(elsewhere):
    where = _run(elsewhere, "-c", "import bridge; print(bridge.__file__)")
    assert Path(where.strip()).is_relative_to(elsewhere)


def test_it_ships_every_example_and_recipe(elsewhere):
    (wheel,) = elsewhere.glob("*.whl")
    held = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("examples", "recipes"):
        for path in (ROOT / folder).rglob("*.*"):
            if path.is_file() and "__pycache__" not in path.parts and not path.name.startswith("."):
                assert f"bridge/shipped/{path.relative_to(ROOT).as_posix()}" in held


def test_the_demo_runs_from_it_and_verifies_every_marker(elsewhere):
    lines = _run(elsewhere, "-m", "bridge", "demo").splitlines()
    assert lines[-1] == "12 of 12 markers verified"
    assert any("Landfall" in line and "all home: band, hand drum, undertow" in line for line in lines)
