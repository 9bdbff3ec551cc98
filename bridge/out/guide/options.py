"""What can be asked of the guide: which part of the song, how fast, who is heard.

This file knows nothing about sound.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from bridge.errors import PlanError, UsageError
from bridge.exact import parse_number

__all__ = ["ClickOut", "GuideOptions", "parse_click_out", "parse_speed"]

SLOWEST, FASTEST = Fraction(1, 10), Fraction(4)
_CLICK_OUT = re.compile(r"\s*([0-9]{1,4})\s*(?:/|of|in)\s*([0-9]{1,4})\s*", re.ASCII)


@dataclass(frozen=True, slots=True)
class ClickOut:
    """In every ``every`` bars the click is silent for the last ``bars``: the players hold it alone."""

    bars: int
    every: int

    def silent(self, index: int) -> bool:
        """Tell whether the bar ``index``, from 0 where the guide begins, has no click."""
        return index % self.every >= self.every - self.bars


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideOptions:
    """The options of a guide; the defaults are the whole song, once, with everybody."""

    begin: str | None = None
    """A place as people say it; None: bar 1."""
    stop: str | None = None
    """Where it stops; the landing there is still heard.  None: the song's end."""
    times: int = 1
    speed: Fraction = Fraction(1)
    only: tuple[str, ...] = ()
    """Layers; empty: all."""
    without: tuple[str, ...] = ()
    """Layers, or ``click`` or ``meetings`` where no layer is called so."""
    click_out: ClickOut | None = None
    click_for: str | None = None
    """A player or a layer, whose own pulse is clicked."""
    peak_dbfs: float = -12.0
    recordings: Mapping[str, Any] = field(default_factory=dict, compare=False)
    """The sounds that the plan's cues name, read beforehand; see :mod:`bridge.out.guide.recordings`."""

    @property
    def whole(self) -> bool:
        """Whether it is the song as it stands, from bar 1 to its end, once and at its own speed."""
        return self.begin is None and self.stop is None and self.times == 1 and self.speed == 1


def parse_speed(text: str) -> Fraction:
    """Read ``80%``, ``80 %`` or ``0.8``; UsageError unless from 10 to 400 percent."""
    stripped = text.strip()
    percent = stripped.endswith("%")
    try:
        speed = parse_number(stripped.rstrip("%").strip(), what="a speed") / (100 if percent else 1)
    except PlanError as error:
        raise UsageError(error.message, hint="Write a share of the song's tempo, as in 80%.") from None
    if not SLOWEST <= speed <= FASTEST:
        raise UsageError(
            f"a speed is 10% to 400%, not {text!r}", hint="Write a share of the song's tempo, as in 80%."
        )
    return speed


def parse_click_out(text: str) -> ClickOut:
    """Read ``2/8`` (the last 2 of every 8 bars); UsageError for anything else."""
    match = _CLICK_OUT.fullmatch(text)
    if match is None or not 0 < int(match[1]) < int(match[2]):
        raise UsageError(
            f"--click-out cannot be {text[:40]!r}",
            hint="Write how many of how many bars are silent, as in 2/8: the last 2 of every 8.",
        )
    return ClickOut(bars=int(match[1]), every=int(match[2]))
