"""No half file, nothing overwritten unasked, every fault of the disk named."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from bridge.errors import DeviceError, UsageError
from bridge.out.draft import Draft


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_the_file_appears_only_when_it_is_kept(tmp_path):
    draft = Draft(tmp_path / "song.mid")
    with draft.open() as file:
        file.write(b"MThd")
    assert not (tmp_path / "song.mid").exists()
    draft.keep()
    draft.drop()
    assert names(tmp_path) == ["song.mid"]
    assert (tmp_path / "song.mid").read_bytes() == b"MThd"


def test_a_dropped_draft_leaves_nothing(tmp_path):
    draft = Draft(tmp_path / "song.mid")
    with draft.open() as file:
        file.write(b"MThd")
    draft.drop()
    assert names(tmp_path) == []


def test_what_exists_is_left_as_it_is_without_force(tmp_path):
    path = tmp_path / "song.mid"
    path.write_bytes(b"mine")
    with pytest.raises(UsageError, match="exists and was left as it is"):
        Draft(path)
    draft = Draft(path, force=True)
    with draft.open() as file:
        file.write(b"new")
    draft.keep()
    assert path.read_bytes() == b"new"


def test_a_file_that_appears_meanwhile_is_not_overwritten(tmp_path):
    path = tmp_path / "song.mid"
    draft = Draft(path)
    with draft.open() as file:
        file.write(b"new")
    path.write_bytes(b"theirs")
    with pytest.raises(UsageError, match="exists"):
        draft.keep()
    draft.drop()
    assert path.read_bytes() == b"theirs"
    assert names(tmp_path) == ["song.mid"]


def test_force_keeps_permissions_and_follows_a_link(tmp_path):
    path, link = tmp_path / "song.mid", tmp_path / "link.mid"
    path.write_bytes(b"old")
    path.chmod(0o640)
    link.symlink_to(path)
    draft = Draft(link, force=True)
    with draft.open() as file:
        file.write(b"new")
    draft.keep()
    assert link.is_symlink()
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_link_to_nowhere_is_not_written_through_without_force(tmp_path):
    link = tmp_path / "link.mid"
    link.symlink_to(tmp_path / "nowhere.mid")
    with pytest.raises(UsageError, match="exists"):
        Draft(link)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EDQUOT])
def test_a_disk_that_refuses_midway_is_named_and_nothing_stays(tmp_path, number):
    draft = Draft(tmp_path / "song.wav")
    full = OSError(number, os.strerror(number))
    with pytest.raises(DeviceError, match=os.strerror(number)), draft.open():
        raise full
    draft.drop()
    assert names(tmp_path) == []


def test_a_missing_folder_is_named(tmp_path):
    draft = Draft(tmp_path / "nowhere" / "song.mid")
    with pytest.raises(DeviceError, match=r"song\.mid' cannot be written: No such file"), draft.open():
        pass


def test_a_folder_that_may_not_be_written_in_is_named(tmp_path, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(errno.EACCES, "Permission denied")

    draft = Draft(tmp_path / "song.mid")
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(DeviceError, match="cannot be written: Permission denied"), draft.open():
        pass


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_a_device_fault(tmp_path):
    tmp_path.chmod(0o500)
    draft = Draft(tmp_path / "song.mid")
    with pytest.raises(DeviceError, match="Permission denied"), draft.open():
        pass
    tmp_path.chmod(0o700)


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(UsageError, match="is a folder"):
        Draft(tmp_path, force=True)
