"""Stems: every voice of the guide as a file of its own; laid over each other they are the guide.

(To the sample, but for the rounding of the fade-in.)  This file knows nothing about how
voices sound.
"""

from __future__ import annotations

from pathlib import Path

from bridge.out.folder import numbered_paths
from bridge.out.guide.performance import Performance

__all__ = ["stem_paths"]


def stem_paths(performance: Performance, folder: Path) -> dict[Path, int]:
    """Return the path of each voice's stem in ``folder``, with the voice's number; make the folder.

    DeviceError where the folder cannot be made.
    """
    names = [voice.name for voice in performance.voices]
    paths = numbered_paths(folder, names, ".wav", option="--stems")
    return {path: number for number, path in enumerate(paths)}
