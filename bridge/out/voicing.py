"""Each layer's own pitch, the same in every file that sounds.

Notes of one pentatonic scale, so that whatever falls together sounds well (common
practice, no source).  This file knows nothing about MIDI or synthesis.
"""

from __future__ import annotations

__all__ = ["note_number"]

_NOTES = (60, 67, 72, 76, 79, 64, 55, 81, 84, 69, 57, 74, 52, 86, 62, 88)
"""MIDI note numbers; the first few lie far apart."""


def note_number(layer: int) -> int:
    """Return the note of the plan's layer number ``layer``, from 0."""
    return _NOTES[layer % len(_NOTES)]
