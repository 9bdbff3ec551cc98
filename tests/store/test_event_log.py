"""The log that turns over."""

from __future__ import annotations

import errno
import json
from pathlib import Path

from bridge.store.event_log import EventLog


def lines(path: Path) -> list[dict[str, int]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def test_what_was_written_stands_there_after_a_flush_and_at_the_end(tmp_path):
    path = tmp_path / "log"
    with EventLog(path) as log:
        log.write({"n": 1})
        log.flush()
        assert lines(path) == [{"n": 1}]
        log.write({"n": 2})
    assert lines(path) == [{"n": 1}, {"n": 2}]
    with EventLog(path) as log:
        log.write({"n": 3})
    assert lines(path)[-1] == {"n": 3}


def test_it_turns_over_and_keeps_so_many_parts(tmp_path):
    path = tmp_path / "log"
    with EventLog(path, largest=200, kept=3) as log:
        for n in range(300):
            log.write({"n": n})
            log.flush()
    parts = [tmp_path / f"log.{number}" for number in (3, 2, 1)]
    assert sorted(tmp_path.iterdir()) == sorted([path, *parts])
    assert all(one.stat().st_size < 230 for one in tmp_path.iterdir())
    kept = [line["n"] for part in [*parts, path] for line in lines(part)]
    assert kept == list(range(kept[0], 300))  # in order, without a gap, up to the last


def test_a_full_disk_is_told_of_once_counted_and_outlived(tmp_path, monkeypatch):
    said: list[str] = []
    path = tmp_path / "log"
    with EventLog(path, warn=said.append) as log:
        with monkeypatch.context() as full:

            def refuse(*_: object) -> None:
                raise OSError(errno.ENOSPC, "No space left on device")

            full.setattr(log, "_write", refuse)
            for n in range(3):
                log.write({"n": n})
                log.flush()
        assert len(said) == 1
        assert "No space left on device" in said[0]
        log.write({"n": 3})
        log.flush()
        assert said[1:] == ["the log is written again; 3 lines are missing"]
    assert lines(path) == [{"n": 3}]
    assert log.lost == 3
