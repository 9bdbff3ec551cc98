"""Lines written by a thread: a slow reader holds nothing up, one that has gone is noticed."""

from __future__ import annotations

import io
import threading

from bridge.live import writer
from bridge.live.writer import LineWriter


class Slow(io.StringIO):
    """A reader that takes nothing until it is let."""

    def __init__(self):
        super().__init__()
        self.started, self.goes_on = threading.Event(), threading.Event()

    def write(self, text):
        self.started.set()
        self.goes_on.wait(30)
        return super().write(text)


def test_everything_is_written_in_order_by_the_end():
    file = io.StringIO()
    with LineWriter(file) as lines:
        for number in range(1000):
            lines.write(f"{number}\n")
    assert file.getvalue() == "".join(f"{number}\n" for number in range(1000))
    assert lines.dropped == 0


def test_what_a_slow_reader_does_not_take_is_dropped_and_counted(monkeypatch):
    monkeypatch.setattr(writer, "_MOST_WAITING", 10)
    file = Slow()
    with LineWriter(file) as lines:
        lines.write("first")
        assert file.started.wait(30)
        for _ in range(25):
            lines.write("x")
        assert lines.dropped == 15
        file.goes_on.set()
    assert file.getvalue() == "first" + "x" * 10


def test_a_reader_that_has_gone_is_noticed():
    class Gone(io.StringIO):
        def write(self, _):
            raise BrokenPipeError

    with LineWriter(Gone()) as lines:
        lines.write("anything")
    assert lines.gone
