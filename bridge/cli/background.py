"""A bridge started again as a process of its own, that goes on when the terminal is closed.

The new process is waited for until it has said that it is ready, or why it is not.  This
file knows nothing about bridges but where they say that they run.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from typing import Any

from bridge.errors import DeviceError, PeerError
from bridge.store.running import Running, running_bridges

__all__ = ["start_in_background"]

_FLAG = "--background"
_LONGEST = 60.0
_LOOK_EVERY = 0.05


def start_in_background(words: Sequence[str]) -> Running:
    """Start ``pulsebridge WORDS`` without ``--background``; return the bridge once it runs.

    PeerError with what it said where it ended instead.
    """
    command = [sys.executable, "-m", "bridge", *(word for word in words if word != _FLAG)]
    with tempfile.TemporaryFile() as said:
        process = subprocess.Popen(  # noqa: S603  our own program, with the user's own words
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=said,
            **_apart(),
        )
        until = time.monotonic() + _LONGEST
        while time.monotonic() < until:
            found = next((one for one in running_bridges() if one.pid == process.pid), None)
            if found is not None:
                process.returncode = 0  # it goes on without us, and nobody waits for it
                return found
            if process.poll() is not None:
                said.seek(0)
                text = said.read().decode("utf-8", "replace").strip()
                raise PeerError(f"the bridge ended at once ({process.returncode}): {text[-800:]}")
            time.sleep(_LOOK_EVERY)
        process.terminate()
    raise DeviceError(f"the bridge was not ready after {_LONGEST:.0f} s", hint="Try without --background.")


def _apart() -> dict[str, Any]:
    """Return what keeps a process going when its terminal is closed."""
    if sys.platform == "win32":
        return {"creationflags": subprocess.DETACHED_PROCESS | subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"start_new_session": True}
