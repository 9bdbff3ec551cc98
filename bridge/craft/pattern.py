"""Patterns: who hits when, on a grid of equal steps, for one voice or several.

Written ``x..x..x.``: ``x`` is a hit, ``X`` an accented one, ``.`` nothing; ``|`` marks a
barline and spaces are for the eye.  A pattern repeats.  This file knows nothing about
meters, tempi or sound.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from bridge.errors import PlanError
from bridge.exact import Length

__all__ = ["ACCENT", "HIT", "MOST_STEPS", "REST", "Groove", "Pattern", "even"]

REST, HIT, ACCENT = 0, 1, 2
MOST_STEPS = 1024
_SIGNS = ".xX"


@dataclass(frozen=True)
class Pattern:
    """What one voice does at each step: REST, HIT or ACCENT; at least one of them sounds."""

    steps: tuple[int, ...]

    def __post_init__(self) -> None:
        if not 1 <= len(self.steps) <= MOST_STEPS:
            raise PlanError(f"a pattern has 1 to {MOST_STEPS} steps, not {len(self.steps)}")
        if not set(self.steps) <= {REST, HIT, ACCENT}:
            raise PlanError(f"a step of a pattern is 0, 1 or 2, not {max(self.steps)}")
        if not any(self.steps):
            raise PlanError("a pattern has at least one hit", hint="Write hits as x, as in x..x..x.")

    @classmethod
    def parse(cls, text: str) -> Pattern:
        """Read ``x..x..x.``; barlines and spaces are passed over; PlanError for any other sign."""
        bare = [sign for sign in text if sign not in "| \t"]
        for sign in bare:
            if sign not in _SIGNS:
                raise PlanError(
                    f"a pattern cannot hold {sign!r}, as in {text[:40]!r}",
                    hint="Write x for a hit, X for an accented one, . for nothing, | for a barline.",
                )
        return cls(tuple(_SIGNS.index(sign) for sign in bare))

    @classmethod
    def of_onsets(cls, onsets: Iterable[int], steps: int) -> Pattern:
        """Make a pattern of ``steps`` steps with plain hits at ``onsets``, each 0 to steps − 1."""
        hits = set(onsets)
        if steps > MOST_STEPS:
            raise PlanError(f"a pattern has 1 to {MOST_STEPS} steps, not {steps}")
        for hit in sorted(hits):
            if not 0 <= hit < steps:
                raise PlanError(f"a pattern of {steps} steps has no step {hit + 1}")
        return cls(tuple(int(step in hits) for step in range(steps)))

    @classmethod
    def of_groups(cls, groups: Sequence[int]) -> Pattern:
        """Make a pattern with a hit at the head of each group: 3 3 2 is ``x..x..x.``."""
        if not groups or min(groups) < 1:
            raise PlanError(f"groups are 1 or more steps each, not {' '.join(map(str, groups)) or 'none'}")
        return cls.of_onsets(accumulate(groups[:-1], initial=0), sum(groups))

    @cached_property
    def onsets(self) -> tuple[int, ...]:
        """The steps that sound, rising."""
        return tuple(step for step, hit in enumerate(self.steps) if hit)

    @property
    def gaps(self) -> tuple[int, ...]:
        """From each hit to the next, the last one round to the first; they add up to the steps."""
        onsets = self.onsets
        after = (*onsets[1:], onsets[0] + len(self.steps))
        return tuple(later - onset for onset, later in zip(onsets, after, strict=True))

    def rotated(self, by: int) -> Pattern:
        """Start ``by`` steps later in the pattern (earlier when negative); what came before follows."""
        by %= len(self.steps)
        return Pattern(self.steps[by:] + self.steps[:by])

    def shared(self, other: Pattern, *, shift: int = 0) -> int:
        """Count the steps at which this and ``other``, moved ``shift`` steps later, both sound.

        ValueError unless both have equally many steps.
        """
        if len(self.steps) != len(other.steps):
            raise ValueError(f"{len(self.steps)} steps cannot be laid over {len(other.steps)}")
        return sum(1 for onset in self.onsets if other.steps[(onset - shift) % len(self.steps)])

    def __str__(self) -> str:
        return "".join(_SIGNS[step] for step in self.steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Groove:
    """Named voices on one grid of steps, ``unit`` each; ``barlines`` are steps, the first being 0."""

    unit: Length
    voices: tuple[tuple[str, Pattern], ...]
    barlines: tuple[int, ...] = (0,)

    def __post_init__(self) -> None:
        if self.unit <= Length(0):
            raise PlanError(f"the unit of a groove is more than 0, not {self.unit}")
        if not self.voices:
            raise PlanError("a groove has at least one voice")
        names = [name for name, _ in self.voices]
        if len(set(names)) < len(names):
            raise PlanError(f"the voices of a groove have names of their own, not {', '.join(names)}")
        lengths = {len(pattern.steps) for _, pattern in self.voices}
        if len(lengths) > 1:
            raise PlanError(
                f"the voices of a groove have equally many steps, not {sorted(lengths)}",
                hint="Write the shorter ones out until all are as long.",
            )
        rising = sorted(set(self.barlines))
        if rising != list(self.barlines) or rising[0] != 0 or rising[-1] >= self.steps:
            raise PlanError(f"barlines rise from step 0 within {self.steps} steps, not {self.barlines}")

    @property
    def steps(self) -> int:
        """How many steps each voice has."""
        return len(self.voices[0][1].steps)

    @property
    def cycle(self) -> Length:
        """One pass."""
        return self.unit * self.steps

    @property
    def bars(self) -> tuple[range, ...]:
        """The steps of each bar."""
        ends = (*self.barlines[1:], self.steps)
        return tuple(range(start, end) for start, end in zip(self.barlines, ends, strict=True))

    @property
    def together(self) -> Pattern:
        """All voices as one: at each step the strongest of them."""
        columns = zip(*(pattern.steps for _, pattern in self.voices), strict=True)
        return Pattern(tuple(max(column) for column in columns))

    def voice(self, name: str) -> Pattern:
        """Return a voice's pattern; PlanError names those there are."""
        for known, pattern in self.voices:
            if known == name:
                return pattern
        raise PlanError(
            f"there is no voice {name!r}; there are {', '.join(known for known, _ in self.voices)}"
        )

    def show(self, pattern: Pattern) -> str:
        """Write a pattern of this groove with its barlines: ``x..x..x.|x..x..x.``."""
        text = str(pattern)
        return "|".join(text[bar.start : bar.stop] for bar in self.bars)


def even(hits: int, steps: int) -> Pattern:
    """Spread ``hits`` over ``steps`` as evenly as whole steps allow, the first on step 0.

    The Euclidean rhythm E(hits, steps) of Toussaint 2005, by Bjorklund's pairing: the
    shorter kind of block is appended to the longer until at most one is left over.
    """
    if not 1 <= hits <= steps <= MOST_STEPS:
        raise PlanError(
            f"an even pattern has 1 to {MOST_STEPS} steps and 1 hit to each, not {hits} in {steps}"
        )
    heads: list[tuple[int, ...]] = [(HIT,)] * hits
    tails: list[tuple[int, ...]] = [(REST,)] * (steps - hits)
    while len(tails) > 1:
        paired = min(len(heads), len(tails))
        joined = [head + tail for head, tail in zip(heads, tails, strict=False)]
        heads, tails = joined, heads[paired:] + tails[paired:]
    return Pattern(tuple(step for block in (*heads, *tails) for step in block))
