"""What writing a file as a whole promises."""

import os
from pathlib import Path

import pytest

from bridge.errors import DeviceError
from bridge.store import atomic, write_atomically


def test_replaces_what_was_there_and_leaves_nothing_beside_it(tmp_path: Path):
    path = tmp_path / "a.json"
    write_atomically(path, b"old")
    write_atomically(path, b"new")
    assert path.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("step", ["fsync", "replace", "chmod"])
def test_a_failure_at_any_step_keeps_the_old_file(tmp_path: Path, monkeypatch, step):
    path = tmp_path / "a.json"
    write_atomically(path, b"old")

    def fail(*_args, **_kwargs):
        raise OSError(28, "No space left on device")

    owner = atomic.os if step == "fsync" else Path
    monkeypatch.setattr(owner, step, fail)
    with pytest.raises(DeviceError, match="No space left") as caught:
        write_atomically(path, b"new")
    monkeypatch.undo()
    assert caught.value.exit_code == 3
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_said(tmp_path: Path):
    with pytest.raises(DeviceError, match="cannot be written"):
        write_atomically(tmp_path / "no" / "a.json", b"x")


@pytest.mark.skipif(os.name == "nt", reason="permissions of POSIX")
def test_keeps_the_permissions_and_follows_a_link(tmp_path: Path):
    path = tmp_path / "a.json"
    path.write_bytes(b"old")
    path.chmod(0o600)
    link = tmp_path / "link.json"
    link.symlink_to(path)
    write_atomically(link, b"new")
    assert link.is_symlink()
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o600
