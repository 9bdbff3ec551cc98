"""A JACK server of our own with the dummy driver: a real MIDI path on any machine.

Missing, it is a skip; in CI (``PULSEBRIDGE_CI``) a failure.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

__all__ = ["Server", "needed", "serving"]

RATE = 48_000


def needed(name: str) -> Any:
    """Import a MIDI library of the test extra; skip without it, but fail in CI."""
    try:
        return __import__(name)
    except (ImportError, OSError) as error:
        if os.environ.get("PULSEBRIDGE_CI") and (name != "rtmidi" or sys.version_info < (3, 13)):
            raise
        pytest.skip(f"{name} cannot be used: {error}")


@dataclass
class Server:
    """A running jackd; it can be killed and started anew.

    ``even``: it waits for its clients, and has time to, but takes seconds to part from them.
    """

    name: str
    even: bool
    process: subprocess.Popen[bytes] | None = field(default=None)

    @property
    def period(self) -> int:
        return 1024 if self.even else 128

    def start(self) -> None:
        words = ["jackd", "-n", self.name, "--no-realtime", *(["--sync"] if self.even else [])]
        words += ["-d", "dummy", "-r", str(RATE), "-p", str(self.period)]
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen(words, stdin=quiet, stdout=quiet, stderr=quiet)
        jack = needed("jack")
        for _ in range(200):
            with contextlib.suppress(jack.JackOpenError):
                jack.Client("probe", no_start_server=True).close()
                return
            time.sleep(0.05)  # there is no event to wait for but that it answers
        pytest.fail("jackd does not answer within 10 s: do dead servers hold all of its places in /dev/shm?")

    def stop(self) -> None:
        """End it in good order: one that is killed keeps one of the eight places JACK has for servers."""
        if self.process is not None:
            self.process.terminate()
            try:
                self.process.wait(timeout=10)
            except subprocess.TimeoutExpired:
                self.kill()
            self.process = None

    def kill(self) -> None:
        """Let it die, as in a crash; start it again under the same name to clean up after it."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


@contextlib.contextmanager
def serving(*, even: bool = False) -> Iterator[Server]:
    """Run a JACK server for this process only, and end it."""
    if shutil.which("jackd") is None:
        if os.environ.get("PULSEBRIDGE_CI"):
            pytest.fail("jackd is missing: apt-get install jackd2")
        pytest.skip("jackd is not installed")
    needed("rtmidi")
    needed("jack")
    server = Server(f"pulsebridge-test-{os.getpid()}", even)
    before = os.environ.get("JACK_DEFAULT_SERVER")
    os.environ["JACK_DEFAULT_SERVER"] = server.name
    try:
        server.start()
        yield server
    finally:
        server.stop()
        if before is None:
            del os.environ["JACK_DEFAULT_SERVER"]
        else:
            os.environ["JACK_DEFAULT_SERVER"] = before
