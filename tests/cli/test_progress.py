"""Progress: silent for the first second, then seldom, and gone at the end."""

from __future__ import annotations

import sys

from bridge.cli.progress import Progress


class Clock:
    def __init__(self):
        self.seconds = 0.0

    def __call__(self):
        return self.seconds


def test_what_takes_less_than_a_second_says_nothing(capsys):
    clock = Clock()
    progress = Progress("writing", now=clock)
    for clock.seconds in (0.1, 0.5, 0.99):
        progress(clock.seconds)
    progress.finish()
    assert capsys.readouterr().err == ""


def test_what_takes_longer_writes_a_line_every_five_seconds(capsys):
    clock = Clock()
    progress = Progress("writing", now=clock)
    for tenth in range(120):
        clock.seconds = tenth / 10
        progress(tenth / 120)
    progress(1.0)
    progress.finish()
    assert capsys.readouterr().err.splitlines() == ["writing: 8%", "writing: 50%", "writing: 92%"]


def test_on_a_terminal_the_line_is_rewritten_and_cleared(capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    clock = Clock()
    progress = Progress("writing\x1b", now=clock)
    clock.seconds = 2
    progress(0.5)
    progress.finish()
    told = capsys.readouterr().err
    assert "\r" in told
    assert "writing\\x1b: 50%" in told
    assert told.endswith("\r")
    assert "\x1b" not in told
