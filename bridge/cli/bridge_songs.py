"""The songs of a bridge: their plans solved before it starts, and where it keeps what it remembers.

This file opens no port.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from bridge.cli.solving import solved_song
from bridge.live.settings import Settings
from bridge.shape import DEFAULT_EFFORT
from bridge.show import Programme
from bridge.song import Song
from bridge.store import state_folder
from bridge.store.token import own_token

__all__ = ["solved_set"]


def solved_set(
    settings: Settings, plans: Sequence[Path], *, join: Callable[[Sequence[Song]], Programme]
) -> tuple[Programme, Settings]:
    """Solve ``plans``, ``join`` their songs, and complete the settings: files, title and token.

    MusicError where a plan cannot be satisfied, UsageError where the songs do not go together.
    """
    solved = {path: solved_song(path, effort=settings.effort or DEFAULT_EFFORT) for path in plans}
    programme = join([song for song, _ in solved.values()])
    key = hashlib.sha256("\n".join(str(path.resolve()) for path in plans).encode()).hexdigest()[:12]
    folder = state_folder()
    return programme, replace(
        settings,
        title=", ".join(song.plan.title for song in programme.songs),
        plans=tuple(plans),
        tempi={path: one.tempo for path, (_, one) in solved.items() if one.tempo is not None},
        token=settings.token or own_token(),
        journal=folder / f"show-{key}.jsonl",
        log=settings.log or folder / f"bridge-{key}.log",
    )
