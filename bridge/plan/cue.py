"""A plan's own cue: where it stands in its section, for whom it is, what it says, sends and plays.

A place is told from the section, so that it follows the planner: ``end - 8 bars``,
``meeting 2``, ``bar 5.3``.  Where that falls in a solved song is worked out in
:mod:`bridge.song.asked_cues`.  This file knows nothing about sections, wires or sound.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from bridge.errors import PlanError, Where
from bridge.exact import Bars, Length, parse_number, parse_whole

__all__ = [
    "AWAY",
    "Anchor",
    "Beats",
    "CueAt",
    "OscArg",
    "PlanCue",
    "Send",
    "SendController",
    "SendOsc",
    "SendProgram",
]

MOST_CHANNELS = 16
MOST_PROGRAMS = 128
MOST_CONTROLLER = 127
"""The highest number of a controller, and its highest value: seven bits (MIDI 1.0)."""

AWAY = r"[0-9]+\s*bars?|[0-9]+\s*beats?|[0-9]+\s*/\s*[0-9]+|[0-9]+\.[0-9]+"
"""How far from its anchor a cue stands, as a pattern."""
_AT = re.compile(
    r"(start|end|bar|meeting)(?:\s+([0-9]+)(?:\.([0-9]+))?)?(?:\s*([+-])\s*(.*))?", re.ASCII | re.DOTALL
)
_AWAY = re.compile(AWAY, re.ASCII)
_COUNTED = re.compile(r"([0-9]+)\s*(bar|beat)s?", re.ASCII)
_HINT = "Write start, end, bar 5, bar 5.3 or meeting 2, perhaps with - 8 bars, + 2 beats or - 3/16 after it."


class Anchor(StrEnum):
    """What in a section a cue's place is told from."""

    START = "start"
    END = "end"
    """The barline after its last bar: the landing."""
    BAR = "bar"
    """A bar of the section, from 1, and perhaps a beat of it."""
    MEETING = "meeting"
    """A full meeting inside the section, from 1: its start is none, its landing the last."""


@dataclass(frozen=True, slots=True)
class Beats:
    """A number of beats, each the lower-number note of the meter at the anchor."""

    count: int

    def __str__(self) -> str:
        return f"{self.count} beat{'' if self.count == 1 else 's'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CueAt:
    """A place told from a section: an anchor, and perhaps a way before or after it."""

    anchor: Anchor
    number: int = 0
    """The bar or the meeting, from 1; 0 with the other anchors."""
    beat: int = 1
    away: Bars | Beats | Length | None = None
    before: bool = False
    """Whether ``away`` leads back from the anchor."""

    def __post_init__(self) -> None:
        numbered = self.anchor in (Anchor.BAR, Anchor.MEETING)
        if (self.number >= 1) != numbered or self.beat < 1:
            raise ValueError(f"no place in a section is {self.anchor} {self.number}.{self.beat}")

    @classmethod
    def parse(cls, text: str) -> CueAt:
        """Read ``end - 8 bars``, ``meeting 2``, ``bar 5.3 + 1/16``; PlanError for anything else."""
        found = _AT.fullmatch(text.strip())
        if found is None:
            raise PlanError(f"a cue cannot stand at {text.strip()[:40]!r}", hint=_HINT)
        word, number, beat, sign, rest = found.groups()
        anchor = Anchor(word)
        _refuse_numbers(text.strip(), anchor, number, beat)
        if anchor is Anchor.END and sign == "+":
            raise PlanError(
                f"{text.strip()[:40]!r} lies after the section",
                hint="Write the cue into the section that follows, told from its start.",
            )
        return cls(
            anchor=anchor,
            number=parse_whole(number, what=f"a {word}", least=1) if number else 0,
            beat=parse_whole(beat, what="a beat", least=1) if beat else 1,
            away=_away(rest) if sign else None,
            before=sign == "-",
        )

    def __str__(self) -> str:
        head = f"{self.anchor} {self.number}" if self.number else str(self.anchor)
        if self.beat > 1:
            head += f".{self.beat}"
        if self.away is None:
            return head
        away = self.away
        if isinstance(away, Length):
            return f"{head} {'-' if self.before else '+'} {_note(away)}"
        return f"{head} {'-' if self.before else '+'} {away}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SendProgram:
    """A program change; programs and channels count from 1, as players see them."""

    program: int
    channel: int

    def __post_init__(self) -> None:
        _hold("a program", self.program, 1, MOST_PROGRAMS)
        _hold("a channel", self.channel, 1, MOST_CHANNELS)


@dataclass(frozen=True, slots=True, kw_only=True)
class SendController:
    """A control change: controller and value from 0, the channel from 1."""

    controller: int
    value: int
    channel: int

    def __post_init__(self) -> None:
        _hold("a controller", self.controller, 0, MOST_CONTROLLER)
        _hold("a value", self.value, 0, MOST_CONTROLLER)
        _hold("a channel", self.channel, 1, MOST_CHANNELS)


OscArg = int | Fraction | str
"""What is sent as i (32-bit whole), f (32-bit float) and s (text)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SendOsc:
    """An OSC message; each argument is sent under the type that :data:`OscArg` says."""

    address: str
    args: tuple[OscArg, ...] = ()

    @property
    def types(self) -> str:
        """The type tags, one an argument."""
        return "".join("s" if isinstance(a, str) else "i" if isinstance(a, int) else "f" for a in self.args)


Send = SendProgram | SendController | SendOsc


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCue:
    """A cue that the plan asks for: it says, sends or plays something, or several of these."""

    at: CueAt
    player: str | None = None
    """For whom it is; None: for everybody."""
    say: str | None = None
    send: tuple[Send, ...] = ()
    sound: str | None = None
    """A short recording, as a path from the plan's folder; heard before the cue, it ends ahead of it."""
    where: Where | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        if self.say is None and self.sound is None and not self.send:
            raise ValueError("a cue says, sends or plays something")


def _refuse_numbers(text: str, anchor: Anchor, number: str | None, beat: str | None) -> None:
    """Refuse a number where none belongs, a missing one, and a beat of what has none."""
    numbered = anchor in (Anchor.BAR, Anchor.MEETING)
    if numbered and number is None:
        raise PlanError(f"{text[:40]!r} does not say which {anchor}", hint=f"Write {anchor} 2, or the like.")
    if number is not None and not numbered:
        raise PlanError(f"a cue cannot stand at {text[:40]!r}: {anchor} has no number", hint=_HINT)
    if beat is not None and anchor is Anchor.MEETING:
        raise PlanError(
            f"a cue cannot stand at {text[:40]!r}: a meeting has no beats", hint=f"Write meeting {number}."
        )


def _away(text: str) -> Bars | Beats | Length:
    stripped = text.strip()
    if _AWAY.fullmatch(stripped) is None:
        hint = "Write 8 bars, 2 beats, or a fraction of a whole note as in 3/16."
        if stripped.isascii() and stripped.isdigit():
            hint = f"Write '{stripped[:20]} bars', '{stripped[:20]} beats' or '{stripped[:20]}/1'."
        raise PlanError(f"the way from a cue's anchor cannot be {stripped[:40]!r}", hint=hint)
    counted = _COUNTED.fullmatch(stripped)
    if counted is not None:
        count = parse_whole(counted[1], what=f"a number of {counted[2]}s", least=1)
        return Bars(count) if counted[2] == "bar" else Beats(count)
    length = parse_number(stripped, what="the way from a cue's anchor")
    if not length:
        raise PlanError("the way from a cue's anchor is more than 0", hint="Leave it out.")
    return Length(length)


def _note(length: Length) -> str:
    value = length.whole_notes
    return f"{value.numerator}/{value.denominator}"


def _hold(what: str, value: int, least: int, most: int) -> None:
    if not least <= value <= most:
        raise ValueError(f"{what} is {least} to {most}, not {value}")
