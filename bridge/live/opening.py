"""The files and ports of a running bridge, opened from its settings.

This file knows nothing about what goes through them.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable
from contextlib import ExitStack

from bridge.live.outputs import MidiPort
from bridge.live.settings import Settings
from bridge.midi.news import PortNews
from bridge.osc import Port
from bridge.store.journal import Journal
from bridge.store.lock import Lock
from bridge.store.running import Running

__all__ = ["journal_of", "midi_out", "running_of"]


def journal_of(settings: Settings, stack: ExitStack, warn: Callable[[str], None]) -> Journal | None:
    """Open the journal, for one bridge at a time: HeldError naming the other one."""
    path = settings.journal
    if path is None:
        return None
    who = f"pulsebridge {settings.what} {settings.title!r}"
    stack.enter_context(Lock(path.with_name(path.name + ".lock"), who=who))
    return stack.enter_context(Journal(path, warn=warn))


def midi_out(settings: Settings, stack: ExitStack, tell: Callable[[PortNews], None]) -> MidiPort | None:
    """Open the MIDI port for cues, where one is asked for."""
    choice = settings.cues_midi
    if choice is None:
        return None
    from bridge.midi import MidiOut

    return stack.enter_context(MidiOut(choice.name, virtual=choice.virtual, tell=tell))


def running_of(
    settings: Settings, *, control: tuple[str, int], token: str, ports: Iterable[Port | None]
) -> Running:
    """Return what the file of this running bridge says."""
    return Running(
        what=settings.what,
        title=settings.title,
        pid=os.getpid(),
        since=time.time(),
        control=control,
        token=token,
        ports=tuple(f"{port.place[0]}:{port.place[1]}" for port in ports if port is not None),
        log=None if settings.log is None else str(settings.log.resolve()),
    )
