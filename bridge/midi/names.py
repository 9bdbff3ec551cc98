"""The names of MIDI ports: which one is meant, what to say when there is none such.

ALSA's names end in the numbers of client and port (``Rig:Rig MIDI 1 20:0``), those of
Windows in the port's (``Rig 1``): both change when a cable is plugged in again, so that a
port is known again without them.  This file knows no driver.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches

from bridge.errors import DeviceError

__all__ = ["find", "no_such_port"]

_NUMBERS = re.compile(r" (\d+:)?\d+$")
_MOST_SHOWN = 12


def find(wanted: str, names: Sequence[str]) -> str | None:
    """Return the one of ``names`` that is meant, with or without its numbers; None for none or several."""
    if wanted in names:
        return wanted
    bare = [name for name in names if _bare(name) in (wanted, _bare(wanted))]
    return bare[0] if len(bare) == 1 else None


def no_such_port(wanted: str, names: Sequence[str]) -> DeviceError:
    """Make the error for a port that is not there, or is there more than once."""
    doubles = [name for name in names if _bare(name) in (wanted, _bare(wanted))]
    if len(doubles) > 1:
        listed = ", ".join(map(repr, doubles))
        return DeviceError(f"several MIDI ports are called {wanted!r}: {listed}", hint="Name one of these.")
    if not names:
        return DeviceError(
            f"there is no MIDI port {wanted!r}: the system shows none at all",
            hint="Is the cable in, and the program running that sends? --virtual makes a port to send to.",
        )
    lower = {_bare(name).lower(): name for name in names}
    near = get_close_matches(_bare(wanted).lower(), lower, n=1, cutoff=0.4)
    inside = [name for name in names if wanted.lower() in name.lower()]
    meant = inside[0] if inside else lower[near[0]] if near else None
    return DeviceError(
        f"there is no MIDI port {wanted!r}; there are {', '.join(map(repr, names[:_MOST_SHOWN]))}",
        hint=f"Did you mean {meant!r}?" if meant else "Name one of these; --midi-ports lists them all.",
    )


def _bare(name: str) -> str:
    return _NUMBERS.sub("", name)
