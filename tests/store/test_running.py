"""The file of a running bridge."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from dataclasses import replace

import pytest

from bridge.errors import UsageError
from bridge.store.running import Running, RunningFile, holder_of, new_token, running_bridges


@pytest.fixture(autouse=True)
def state(tmp_path, monkeypatch):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path))
    return tmp_path


def running(**changes) -> Running:
    one = Running(
        what="follow",
        title="Low Tide Relay",
        pid=os.getpid(),
        since=1000.0,
        control=("127.0.0.1", 4321),
        token=new_token(),
        ports=("127.0.0.1:9010", "127.0.0.1:9000"),
    )
    return replace(one, **changes)


def test_a_running_bridge_is_found_and_gone_when_it_has_ended():
    one = running(log="somewhere/log")
    with RunningFile(one):
        assert running_bridges() == (one,)
    assert running_bridges() == ()


@pytest.mark.skipif(os.name == "nt", reason="Windows has other permissions")
def test_nobody_else_may_read_the_token(state):
    with RunningFile(running()) as file:
        assert stat.S_IMODE(file.path.stat().st_mode) == 0o600


def test_what_a_crash_left_is_removed(state):
    child = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"], stdout=subprocess.PIPE, check=True
    )
    dead = running(pid=int(child.stdout))
    file = RunningFile(dead)
    file.__enter__()
    (state / "running-x.json").write_text("rubbish")
    assert running_bridges() == ()
    assert not file.path.exists()


def test_who_holds_a_port_is_known():
    one = running()
    assert holder_of("127.0.0.1:9000", [one]) is one
    assert holder_of("0.0.0.0:9010", [one]) is one
    assert holder_of("127.0.0.1:9011", [one]) is None
    assert "Low Tide Relay" in str(one)


@pytest.mark.parametrize("record", [{}, {"what": 1}, {"control": "x"}])
def test_another_record_is_refused(record):
    with pytest.raises(UsageError, match="no file of a running bridge"):
        Running.of_record(record)


def test_tokens_differ_and_can_be_typed():
    assert len({new_token() for _ in range(50)}) == 50
    assert all(len(new_token()) == 22 and new_token().isascii() for _ in range(5))
