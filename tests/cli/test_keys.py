"""The terminal's keys as feet, on a real pseudo-terminal."""

from __future__ import annotations

import asyncio
import os
import sys

import pytest

from bridge.cli.keys import Keys


@pytest.mark.skipif(os.name == "nt", reason="Windows has no pseudo-terminal of this kind")
def test_each_key_is_pressed_at_once_and_the_terminal_is_left_as_it_was(monkeypatch):
    import termios

    master, slave = os.openpty()
    with os.fdopen(slave, "r") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        before = termios.tcgetattr(stdin)

        async def go():
            pressed: asyncio.Queue = asyncio.Queue()
            with Keys(asyncio.get_running_loop(), pressed.put_nowait):
                os.write(master, b"h\x1b[6~")
                return [(await asyncio.wait_for(pressed.get(), 20)).key for _ in range(2)]

        assert asyncio.run(go()) == ["h", "PageDown"]
        assert termios.tcgetattr(stdin) == before
    os.close(master)


def test_without_a_terminal_nothing_is_read(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("hhh")
    with (tmp_path / "file").open() as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)

        async def go():
            pressed = []
            with Keys(asyncio.get_running_loop(), pressed.append):
                await asyncio.sleep(0)
            return pressed

        assert asyncio.run(go()) == []
