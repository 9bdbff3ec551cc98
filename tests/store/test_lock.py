"""What the lock promises."""

import subprocess
import sys
from pathlib import Path

import pytest

from bridge.store import HeldError, Lock, state_folder

_HOLD = """
import sys
from pathlib import Path
from bridge.store import Lock
with Lock(Path(sys.argv[1]), who="pulsebridge lay"):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_a_second_holder_is_refused_and_told_who(tmp_path: Path):
    path = tmp_path / "lock"
    with Lock(path, who="pulsebridge lay"), pytest.raises(HeldError, match="pulsebridge lay \\(process"):
        Lock(path, who="another").__enter__()


def test_is_free_after_the_block(tmp_path: Path):
    path = tmp_path / "lock"
    for _ in range(2):
        with Lock(path, who="one"):
            pass


def test_ends_with_a_killed_process(tmp_path: Path):
    path = tmp_path / "lock"
    holder = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with holder:
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(HeldError):
            Lock(path, who="second").__enter__()
        holder.kill()
        holder.wait()
    with Lock(path, who="third"):
        pass


def test_the_state_folder_can_be_named(tmp_path: Path, monkeypatch):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path / "here"))
    assert state_folder() == tmp_path / "here"
    assert state_folder().is_dir()
