"""Feet: a pedal, a pad or a key that does one thing, guarded against being pressed twice by one step.

``hold=controller 64``, ``release=note 36 channel 10``, ``release hand drum=key r``.  A foot
is written as it is told when it is learnt by pressing.  Channels count from 1.  This file
knows no port and no terminal.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from bridge.errors import UsageError
from bridge.show import Control, control

__all__ = ["GUARD_SECONDS", "Feet", "Foot", "Press", "control_of"]

GUARD_SECONDS = 0.3
"""After a press the same foot does nothing for so long: a step on a pedal often bounces."""
_WHAT = re.compile(
    r"(note|controller|program)\s+([0-9]{1,3})(?:\s+channel\s+([0-9]{1,2}))?|key\s+(\S{1,20})", re.ASCII
)
_HINT = (
    "Write hold=controller 64, release=note 36 channel 10 or again=key a; "
    "--learn-foot hold finds it by pressing."
)
_KINDS = {0x90: "note", 0xB0: "controller", 0xC0: "program"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """What was pressed; ``channel`` None: on any."""

    kind: str
    number: int = 0
    channel: int | None = None
    key: str = ""

    @classmethod
    def parse(cls, text: str) -> Press:
        """Read ``note 36 channel 10``, ``controller 64``, ``program 5`` or ``key h``; UsageError else."""
        found = _WHAT.fullmatch(text.strip())
        if found is None:
            raise UsageError(f"a foot cannot be {text.strip()[:60]!r}", hint=_HINT)
        kind, number, channel, key = found.groups()
        if key is not None:
            return cls(kind="key", key=key)
        if int(number) > 127 or not 1 <= int(channel or 1) <= 16:
            raise UsageError(
                f"a foot cannot be {text.strip()[:60]!r}: numbers are 0 to 127, channels 1 to 16"
            )
        return cls(kind=kind, number=int(number), channel=int(channel) if channel else None)

    @classmethod
    def of_midi(cls, message: bytes) -> Press | None:
        """Return the press that a message is; None for one that is none, or lets go."""
        kind = _KINDS.get(message[0] & 0xF0) if message else None
        if kind is None or len(message) < 2 or message[0] >= 0xF0:
            return None
        if (kind == "note" and not message[2]) or (kind == "controller" and message[2] < 64):
            return None
        return cls(kind=kind, number=message[1], channel=(message[0] & 0x0F) + 1)

    def is_met_by(self, other: Press) -> bool:
        """Tell whether ``other``, as it came, is this one."""
        same = (self.kind, self.number, self.key) == (other.kind, other.number, other.key)
        return same and self.channel in (None, other.channel)

    def __str__(self) -> str:
        if self.kind == "key":
            return f"key {self.key}"
        channel = "" if self.channel is None else f" channel {self.channel}"
        return f"{self.kind} {self.number}{channel}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """What a press does."""

    control: Control
    press: Press

    @classmethod
    def parse(cls, text: str) -> Foot:
        """Read ``DO=WHAT``, split at the last ``=``; UsageError for anything else."""
        do, equals, what = text.rpartition("=")
        if not equals:
            raise UsageError(f"a foot is DO=WHAT, not {text[:60]!r}", hint=_HINT)
        return cls(control=control_of(do), press=Press.parse(what))

    def __str__(self) -> str:
        return f"{' '.join(filter(None, (self.control.do, self.control.name)))}={self.press}"


def control_of(text: str) -> Control:
    """Read a control in words, as in ``release hand drum``; UsageError for anything else."""
    do, _, name = text.strip().partition(" ")
    return control(do, *([name.strip()] if name.strip() else []))


@dataclass(slots=True)
class Feet:
    """Presses in, controls out."""

    feet: list[Foot]
    learning: list[Control] = field(default_factory=list)
    """Those whose foot is still to be found by pressing, in order."""
    guarded: int = 0
    """Presses that came too soon after one of the same foot."""
    _last: dict[Press, float] = field(default_factory=dict)
    _down: set[tuple[int, int]] = field(default_factory=set)
    """Controllers that are held down: a pedal may send many values on its way."""

    @classmethod
    def of(cls, feet: Iterable[str], learning: Iterable[str] = ()) -> Feet:
        """Read the feet as they were given; UsageError for what is none."""
        return cls(feet=[Foot.parse(one) for one in feet], learning=[control_of(one) for one in learning])

    def midi(self, at: float, message: bytes) -> tuple[Control | None, Foot | None]:
        """Take a MIDI message; see :meth:`pressed`."""
        if message and message[0] & 0xF0 == 0xB0 and len(message) == 3:
            pedal = (message[0], message[1])
            was_down = pedal in self._down
            (self._down.add if message[2] >= 64 else self._down.discard)(pedal)
            if was_down:
                return None, None
        press = Press.of_midi(message)
        return self.pressed(at, press) if press is not None else (None, None)

    def pressed(self, at: float, press: Press) -> tuple[Control | None, Foot | None]:
        """Take a press; return what it does, if anything, and the foot that was learnt by it."""
        foot = next((foot for foot in self.feet if foot.press.is_met_by(press)), None)
        if foot is None and self.learning:
            foot = Foot(control=self.learning.pop(0), press=press)
            self.feet.append(foot)
            self._last[foot.press] = at
            return None, foot
        if foot is None:
            return None, None
        before = self._last.get(foot.press)
        if before is not None and at - before < GUARD_SECONDS:
            self.guarded += 1
            return None, None
        self._last[foot.press] = at
        return foot.control, None
