"""The journal: a kill at any byte, a full disk, and what is read back."""

from __future__ import annotations

import errno

import pytest

from bridge.exact import Length
from bridge.show import Memory
from bridge.store.journal import Journal


def memory(into: float, sent: tuple[str, ...] = ()) -> Memory:
    return Memory(
        at=5.0,
        song="abc",
        section=1,
        into=into,
        playing=True,
        shift=Length("3/4"),
        held=True,
        leaves=Length("72"),
        follows=2,
        went=3,
        sent=sent,
        played=(("Prelude", 16),),
    )


def test_the_last_memory_comes_back_as_it_was(tmp_path):
    with Journal(tmp_path / "show") as journal:
        assert journal.last() is None
        for into in (1.0, 2.5):
            assert journal.keep(memory(into), wall=1000.0 + into)
    found = Journal(tmp_path / "show").last()
    assert found is not None
    assert (found.memory, found.wall) == (memory(2.5), 1002.5)


def test_a_kill_at_any_byte_leaves_the_last_whole_memory(tmp_path):
    path = tmp_path / "show"
    sizes = []
    with Journal(path) as journal:
        for into in range(4):
            journal.keep(memory(float(into), sent=("a", "b" * into)), wall=float(into))
            sizes.append(path.stat().st_size)
    content = path.read_bytes()
    for cut in range(len(content) + 1):
        path.write_bytes(content[:cut])
        found = Journal(path).last()
        # a line is whole with its last brace, its line feed or not
        whole = sum(cut >= size - 1 for size in sizes)
        assert (found.wall if found else None) == (whole - 1 if whole else None), cut


def test_after_a_torn_line_new_memories_are_read(tmp_path):
    path = tmp_path / "show"
    path.write_bytes(b'{"wall": 1, "memo')
    with Journal(path) as journal:
        journal.keep(memory(7.0), wall=7.0)
        journal.keep(memory(8.0), wall=8.0)
    found = Journal(path).last()
    assert found is not None
    assert found.memory.into == 8.0


def test_rubbish_in_the_file_is_passed_over(tmp_path):
    path = tmp_path / "show"
    with Journal(path) as journal:
        journal.keep(memory(1.0), wall=1.0)
    path.write_bytes(path.read_bytes() + b'\x00\x00\n[]\n{"wall": "x", "memory": {}}\n7\n')
    found = Journal(path).last()
    assert found is not None
    assert found.memory.into == 1.0


def test_the_file_stays_small_and_whole(tmp_path):
    path = tmp_path / "show"
    with Journal(path, largest=4_000) as journal:
        for into in range(200):
            journal.keep(memory(float(into)), wall=float(into))
            assert path.stat().st_size < 5_000
            found = journal.last()
            assert found is not None
            assert found.memory.into == into


class FullDisk:
    def write(self, _):
        raise OSError(errno.ENOSPC, "No space left on device")

    def close(self):
        pass


class NearlyFullDisk(FullDisk):
    def write(self, line):
        return len(line) // 2


@pytest.mark.parametrize("disk", [FullDisk, NearlyFullDisk])
def test_a_full_disk_is_told_of_once_counted_and_outlived(tmp_path, monkeypatch, disk):
    said: list[str] = []
    path = tmp_path / "show"
    with Journal(path, warn=said.append) as journal:
        journal.keep(memory(1.0), wall=1.0)
        journal._file.close()
        journal._file = disk()
        with monkeypatch.context() as full:
            full.setattr(type(path), "write_bytes", FullDisk.write)
            assert [journal.keep(memory(n), wall=n) for n in (2.0, 3.0)] == [False, False]
        assert journal.lost == 2
        assert len(said) == 1
        assert "No space left on device" in said[0]
        found = journal.last()
        assert found is not None
        assert found.memory.into == 1.0
        assert journal.keep(memory(4.0), wall=4.0)
        assert said[1:] == ["the journal is written again"]
    assert Journal(path).last().memory.into == 4.0


def test_forgetting_leaves_nothing(tmp_path):
    path = tmp_path / "show"
    with Journal(path) as journal:
        journal.keep(memory(1.0), wall=1.0)
        journal.forget()
        assert not path.exists()
        journal.forget()
    assert Journal(path).last() is None
