"""Stems: every voice of the guide as a file of its own; laid over each other they are the guide.

(To the sample, but for the rounding of the fade-in.)  This file knows nothing about how
voices sound.
"""

from __future__ import annotations

from pathlib import Path

from bridge.errors import DeviceError
from bridge.out.guide.performance import Performance

__all__ = ["stem_paths"]

_LONGEST = 60
"""Characters of a name that go into a file's name."""


def stem_paths(performance: Performance, folder: Path) -> dict[Path, int]:
    """Return the path of each voice's stem in ``folder``, with the voice's number; make the folder.

    Names keep letters and digits of any script; what a file system might not like becomes
    an underscore.  DeviceError where the folder cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DeviceError(
            f"the folder {str(folder)!r} cannot be made: {error.strerror or error}",
            hint="Give another folder with --stems.",
        ) from None
    return {
        folder / f"{number + 1:02d} {_plain(voice.name)}.wav": number
        for number, voice in enumerate(performance.voices)
    }


def _plain(name: str) -> str:
    kept = "".join(c if c.isalnum() or c in " -_" else "_" for c in name)
    return kept[:_LONGEST].strip() or "_"
