"""The systems that MIDI comes through, by python-rtmidi (the extra ``midi``).

mido's own ports are not used: they read each message again by mido's classes and drop
without a word what these do not know.  This file knows nothing about what messages mean.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from bridge.errors import DeviceError

__all__ = ["CLIENT", "Found", "find_inputs", "hushed", "inputs", "load", "open_system", "opened", "systems"]

CLIENT = "pulsebridge"
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, slots=True)
class Found:
    """A port that can be listened to or sent to, and the system it belongs to (rtmidi's number)."""

    name: str
    system: int


def load() -> Any:
    """Return the module ``rtmidi``; DeviceError naming the extra where it is not installed."""
    try:
        import rtmidi
    except ImportError:
        raise DeviceError(
            "MIDI ports need python-rtmidi, which is not installed",
            hint='Install the extra: pip install "pulsebridge[midi]" (it has wheels up to Python 3.12; '
            "later ones build it and need a C++ compiler).",
        ) from None
    return rtmidi


def systems() -> list[int]:
    """Return the numbers of the MIDI systems that python-rtmidi was built for, best first."""
    rtmidi = load()
    unreal = {rtmidi.API_RTMIDI_DUMMY}
    return [api for api in rtmidi.get_compiled_api() if api not in unreal]


def inputs(system: int, *, listens: bool = True) -> list[str] | None:
    """Return the names of the ports of ``system`` that can be listened to; None where it does not run.

    With ``listens`` false, of those that can be sent to.
    """
    with contextlib.suppress(OSError), opened(system, listens=listens) as port:
        return [str(name) for name in port.get_ports()]
    return None


def find_inputs(*, listens: bool = True) -> list[Found]:
    """Return every port that can be listened to (or sent to), in every system that runs."""
    return [Found(name, system) for system in systems() for name in inputs(system, listens=listens) or ()]


@contextlib.contextmanager
def opened(system: int, *, listens: bool = True) -> Iterator[Any]:
    """Open a client of ``system`` for a moment; OSError where the system does not run."""
    port = open_system(system, listens=listens)
    try:
        yield port
    finally:
        port.delete()


def open_system(system: int, *, listens: bool = True) -> Any:
    """Return a new client of ``system``; OSError where that does not run."""
    rtmidi = load()
    with hushed():
        return (rtmidi.MidiIn if listens else rtmidi.MidiOut)(system, CLIENT)


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """Keep the C libraries from writing to the terminal that they are not running.

    What they have to say comes as an exception too.
    """
    with _ONE_AT_A_TIME:
        sys.stderr.flush()
        with open(os.devnull, "wb") as nowhere:  # noqa: PTH123  a device, no path of the user's
            kept = os.dup(2)
            try:
                os.dup2(nowhere.fileno(), 2)
                yield
            finally:
                os.dup2(kept, 2)
                os.close(kept)
