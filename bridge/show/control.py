"""What people ask of a running show: from the wire, a foot, the stage page, a terminal.

    /pulsebridge/hold          keep the section going past its end
    /pulsebridge/release [s]   leave it where all layers come home, or the named one does
    /pulsebridge/release_now   leave it at the next barline
    /pulsebridge/skip          leave out the section that would come next
    /pulsebridge/again         play this section once more when it ends
    /pulsebridge/locate s      go to a place
    /pulsebridge/accept        let the rest of the song be as it was offered

This file knows nothing about how they arrive.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.errors import UsageError

__all__ = ["CONTROLS", "Control", "control"]

CONTROLS: dict[str, tuple[int, int]] = {
    "hold": (0, 0),
    "release": (0, 1),
    "release_now": (0, 0),
    "skip": (0, 0),
    "again": (0, 0),
    "locate": (1, 1),
    "accept": (0, 0),
}
"""Each with the fewest and the most words that follow it."""
_LONGEST = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """One of :data:`CONTROLS`, and the layer or place that it names."""

    do: str
    name: str | None = None


def control(do: str, *words: str) -> Control:
    """Return the control ``do``; UsageError for an unknown one, or too many or too few words."""
    if do not in CONTROLS:
        raise UsageError(f"there is no control {do[:80]!r}", hint=f"There are {', '.join(CONTROLS)}.")
    fewest, most = CONTROLS[do]
    if not fewest <= len(words) <= most:
        takes = {
            (0, 0): "nothing after it",
            (0, 1): "one name after it, or nothing",
            (1, 1): "one place after it",
        }
        raise UsageError(f"{do!r} takes {takes[fewest, most]}, not {len(words)} words")
    if any(not word.strip() or len(word) > _LONGEST for word in words):
        raise UsageError(f"the name after {do!r} has 1 to {_LONGEST} characters")
    return Control(do=do, name=words[0].strip() if words else None)
