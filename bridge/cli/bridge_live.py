"""A bridge run from a terminal: a line that says how it stands, or JSON lines; its end in order.

This file knows no options.
"""

from __future__ import annotations

import asyncio
import json
import shutil
import signal
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from typing import TYPE_CHECKING, Any

from bridge.cli.bridge_options import CAUTION
from bridge.cli.keys import Keys
from bridge.cli.output import plain_ascii, safe
from bridge.errors import DeviceError
from bridge.live.orders import is_loopback
from bridge.live.telling import status_line
from bridge.live.writer import LineWriter

if TYPE_CHECKING:
    from bridge.live.daemon import Daemon
    from bridge.stage import Stage

__all__ = ["Front", "run"]

_INTERRUPTED = 130
_DRAW_EVERY = 0.25
_QUIET = frozenset({"sent", "asked"})
"""Events that are for programs: people see what they say in other lines."""


class Front:
    """Shows a daemon: JSON lines on stdout, or lines for people and a status line below them."""

    def __init__(self, *, as_json: bool) -> None:
        self._as_json = as_json
        self._out = LineWriter(sys.stdout)
        self._err = LineWriter(sys.stderr)
        self._draws = not as_json and sys.stdout.isatty()
        self._drawn = ""
        self._drawn_at = 0.0

    def __enter__(self) -> Front:
        self._out.__enter__()
        self._err.__enter__()
        return self

    def __exit__(self, *about: object) -> None:
        if self._draws and self._drawn:
            self._out.write("\n")
        self._out.__exit__(None, None, None)
        self._err.__exit__(None, None, None)

    def report(self, record: dict[str, Any]) -> None:
        """Show an event."""
        if self._as_json:
            self._out.write(json.dumps(record, default=str, allow_nan=False) + "\n")
        elif record.get("event") not in _QUIET and record.get("text"):
            self.say(f"{_time_of_day(record.get('at'))}  {record['text']}")

    def warn(self, text: str) -> None:
        """Show what people have to know, whoever reads stdout."""
        if self._as_json:
            self._out.write(json.dumps({"event": "warning", "at": time.time(), "text": text}) + "\n")
            self._err.write(f"{_shown(text, sys.stderr)}\n")
        else:
            self.say(f"warning: {text}")

    def say(self, text: str) -> None:
        """Show a line for people."""
        if self._as_json:
            self._err.write(f"{_shown(text, sys.stderr)}\n")
            return
        over = "\r" + " " * len(self._drawn) + "\r" if self._drawn else ""
        self._out.write(f"{over}{_shown(text, sys.stdout)}\n{self._drawn}")

    def draw(self, daemon: Daemon) -> None:
        """Show the status line anew, now and then."""
        now = daemon.now()
        if not self._draws or now - self._drawn_at < _DRAW_EVERY:
            return
        self._drawn_at = now
        width = shutil.get_terminal_size().columns - 1
        line = _shown(status_line(daemon.view()), sys.stdout)
        line = line if len(line) <= width else line[: width - 3] + "..."
        if line != self._drawn:
            self._out.write("\r" + line + " " * (len(self._drawn) - len(line)))
            self._drawn = line


def run(make: Callable[[Front], Daemon], *, as_json: bool, stage: str | None = None) -> int:
    """Run the daemon that ``make`` makes until it is stopped; return the exit code.

    ``stage`` is where the stage page is served, if it is.

    Ctrl-C ends it with 130, SIGTERM and 'pulsebridge stop' with 0; what goes wrong with a
    port is raised, everything closed.
    """
    with Front(as_json=as_json) as front:
        daemon = make(front)
        page = None if stage is None else _stage(daemon, stage)
        return asyncio.run(_run(daemon, front, page))


def _stage(daemon: Daemon, listen: str) -> Stage:
    try:
        from bridge.stage import Stage
    except ImportError as error:
        raise DeviceError(
            f"the stage page needs {error.name}, which is not installed",
            hint='Install the extra: pip install "pulsebridge[stage]".',
        ) from None
    page = Stage(
        view=daemon.view,
        control=daemon.control,
        listen=listen,
        token=daemon.settings.token,
        now=daemon.now,
    )
    daemon.opened.append(lambda: page)
    daemon.changed.append(page.changed)
    daemon.stage_record = page.as_record
    return page


async def _run(daemon: Daemon, front: Front, page: Stage | None) -> int:
    interrupted: list[bool] = []
    loop = asyncio.get_running_loop()

    def end(*, by_hand: bool) -> None:
        if by_hand:
            interrupted.append(True)
        daemon.stop()

    with ExitStack() as stack:
        _on_signal(loop, stack, signal.SIGINT, lambda: end(by_hand=True))
        _on_signal(loop, stack, signal.SIGTERM, lambda: end(by_hand=False))
        if daemon.settings.feet.feet or daemon.settings.feet.learning:
            stack.enter_context(Keys(loop, daemon.press))
        daemon.quiet.append(lambda _: front.draw(daemon))
        daemon.at_start.insert(0, lambda: _introduce(daemon, front, page))
        await daemon.run()
    return _INTERRUPTED if interrupted else 0


def _on_signal(
    loop: asyncio.AbstractEventLoop, stack: ExitStack, number: signal.Signals, act: Callable[[], None]
) -> None:
    try:
        loop.add_signal_handler(number, act)
    except (NotImplementedError, RuntimeError):  # Windows, or not the main thread
        with suppress(ValueError):
            before = signal.signal(number, lambda *_: loop.call_soon_threadsafe(act))
            stack.callback(signal.signal, number, before)
    else:
        stack.callback(loop.remove_signal_handler, number)


def _introduce(daemon: Daemon, front: Front, page: Stage | None) -> None:
    """Say where everything is, and what it must never be used for."""
    settings, running = daemon.settings, daemon.running
    front.say(CAUTION)
    if daemon.inputs is not None and daemon.inputs.port is not None:
        host, port = daemon.inputs.port.place
        front.say(f"the host is listened to on {host}:{port}")
    if daemon.sender is not None:
        front.say(f"cues go to {', '.join(map(str, daemon.sender.receivers))}")
    if daemon.listens_on is not None:
        host, port = daemon.listens_on
        front.say(f"controls come in on {host}:{port}")
        if not is_loopback(host):
            front.say(f"  from other machines with this token as the last argument: {settings.token}")
    for line in daemon.conductor.cannot_hold():
        front.say(f"in a hold {line}: its timeline runs on, and the show counts on by itself")
    for control in settings.feet.learning:
        front.say(f"press now what shall do {control.do!r}")
    if page is not None:
        _introduce_page(page, front)
    if running is not None:
        text = f"ready: {running.what} {running.title!r}, process {running.pid}; Ctrl-C ends it"
        data = {"process": running.pid, "ports": list(running.ports), "log": running.log, "caution": CAUTION}
        data["cannot_hold"] = daemon.conductor.cannot_hold()
        daemon.tell("ready", text, **data)


def _introduce_page(page: Stage, front: Front) -> None:
    front.say(f"the stage page: {page.address}")
    front.say(f"  with control: {page.control_address}")
    if sys.stdout.isatty() and not plain_ascii():
        for line in page.code().splitlines():
            front.say(line)


def _time_of_day(at: object) -> str:
    return time.strftime("%H:%M:%S", time.localtime(at if isinstance(at, float) else None))


def _shown(text: str, file: Any) -> str:
    encoding = getattr(file, "encoding", None) or "ascii"
    kept = safe(text).encode(encoding, "backslashreplace").decode(encoding)
    return kept.encode("ascii", "replace").decode() if file is sys.stdout and plain_ascii() else kept
