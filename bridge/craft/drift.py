"""Drift: a second player of the same pattern, slightly faster or slower, who slides and comes home.

A pattern of twelve notes stands one, two ... eleven notes apart in turn; the twelfth
shift is the unison again.  Players seldom slide all the way at one rate: they lock for
some turns, slide over a few to the next note, and lock again (common practice, no
source).  All three forms are one thing, a number of turns locked and a number of turns
sliding for each shift: gradual drift never locks, steps never slide.  This file knows
nothing about tempo or how the ear judges it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from bridge.craft.pattern import Pattern
from bridge.cycles import Kind, Layer, good_lengths, nearest
from bridge.errors import MusicError, PlanError
from bridge.exact import Length, Meters, Ratio

__all__ = ["Drift", "Form", "Shift", "drift", "together"]


class Form(StrEnum):
    """How the second player gets from one shift to the next."""

    GRADUAL = "gradual"
    """At one rate all the way."""
    STEPS = "steps"
    """A note is left out (or doubled) at once, every so many turns."""
    LIVE = "live"
    """Locked for some turns, slid over some, locked again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """The pattern against itself, ``by`` steps apart: from where to where exactly, and how it sounds."""

    by: int
    start: Length
    """Where it is reached; lengths count from the unison at the start."""
    end: Length
    """Where it is left; the same place when the players never lock."""
    shared: int
    """Hits that both play at once."""
    composite: Pattern
    """All that is heard: the first player's steps, with an accent where both hit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """A drift that comes home: ``turns`` turns of the first player, on a barline."""

    form: Form
    pattern: Pattern
    unit: Length
    ahead: bool
    turns: int
    bars: int
    locked: Fraction
    """Turns of the first player locked at each shift."""
    sliding: Fraction
    """Turns of the first player sliding from each shift to the next."""

    @property
    def cycle(self) -> Length:
        """One turn of the first player."""
        return self.unit * len(self.pattern.steps)

    @property
    def length(self) -> Length:
        """From the unison at the start to the unison at the end."""
        return self.cycle * self.turns

    @property
    def second_turns(self) -> int:
        """How many turns the second player plays: one more, or one fewer."""
        return self.turns + (1 if self.ahead else -1)

    @property
    def rate(self) -> Ratio | None:
        """The second player's rate while sliding; None for steps, which never slide.

        Gradual over N turns it is (N+1)/N: 73/72 over 72 turns.
        """
        if not self.sliding:
            return None
        gained = Fraction(1, len(self.pattern.steps)) / self.sliding
        return Ratio(1 + gained if self.ahead else 1 - gained)

    @property
    def shifts(self) -> Iterator[Shift]:
        """Yield every shift from the unison at the start to the unison at the end."""
        steps = len(self.pattern.steps)
        each = self.locked + self.sliding
        for by in range(steps + 1):
            start = self.cycle * Ratio(each * by)
            composite = together(self.pattern, by if self.ahead else -by)
            yield Shift(
                by=by,
                start=start,
                end=min(start + self.cycle * Ratio(self.locked), self.length),
                shared=self.pattern.shared(self.pattern, shift=by),
                composite=composite,
            )

    def off(self, at: Length) -> Fraction:
        """Return how many steps the second player is ahead (negative: behind), at a place within."""
        if not Length(0) <= at <= self.length:
            raise ValueError(f"{at} is not within a drift of {self.length}")
        passed = (at / self.cycle).value
        shift, into = divmod(passed, self.locked + self.sliding)
        slid = max(Fraction(0), into - self.locked) / self.sliding if self.sliding else Fraction(0)
        return (shift + slid) if self.ahead else -(shift + slid)


def together(pattern: Pattern, shift: int) -> Pattern:
    """Lay the pattern over itself, the second player ``shift`` steps ahead; accents where both hit."""
    other = pattern.rotated(shift)
    return Pattern(tuple(bool(one) + bool(two) for one, two in zip(pattern.steps, other.steps, strict=True)))


def drift(
    pattern: Pattern,
    *,
    unit: Length,
    wish: Length,
    meters: Meters,
    form: Form = Form.GRADUAL,
    ahead: bool = True,
    sliding: int | None = None,
) -> Drift:
    """Find the drift through every shift that comes home on a barline, nearest to ``wish`` long.

    Of two equally near, the shorter.  For Form.LIVE each slide takes ``sliding`` turns (a
    third of each shift's turns, at least one, unless said) and the rest is locked.
    MusicError when no barline is ever home, or the wish leaves no room to lock.
    """
    steps = len(pattern.steps)
    if steps < 2:
        raise PlanError("a drift needs a pattern of 2 steps or more: with 1 every shift is the unison")
    if sliding is not None and (form is not Form.LIVE or sliding < 1):
        raise PlanError(
            f"a slide of {sliding} turns in a {form} drift cannot be: only a live drift has slides of "
            "its own, of 1 turn or more"
        )
    # Gradual, the whole drift is whole turns; else each of its shifts is.
    whole = 1 if form is Form.GRADUAL else steps
    turns, bars = _whole_turns(unit * steps, whole, wish, meters)
    if turns == 1 and not ahead:
        raise MusicError("in one turn nobody can fall a whole turn behind", hint="Wish for a longer drift.")
    slid = _sliding(form, Fraction(turns, steps), sliding, steps)
    return Drift(
        form=form,
        pattern=pattern,
        unit=unit,
        ahead=ahead,
        turns=turns,
        bars=bars,
        locked=Fraction(turns, steps) - slid,
        sliding=slid,
    )


def _sliding(form: Form, each: Fraction, wanted: int | None, steps: int) -> Fraction:
    """Return how many of the ``each`` turns of a shift are slid over."""
    if form is Form.GRADUAL:
        return each
    if form is Form.STEPS:
        return Fraction(0)
    slid = Fraction(wanted or max(1, each // 3))
    if slid >= each:
        raise MusicError(
            f"each of the {steps} shifts has {each} turns, too few to slide over {slid} and lock as well",
            hint=f"Wish for {steps * (slid + 1)} turns of the pattern or more, or slide over fewer.",
        )
    return slid


def _whole_turns(cycle: Length, whole: int, wish: Length, meters: Meters) -> tuple[int, int]:
    """Return the turns and bars nearest to the wish, the turns a multiple of ``whole``."""
    layer = Layer(name="the pattern", cycle=cycle * whole, kind=Kind.CYCLE)
    good = good_lengths(meters, [layer])
    bars = nearest(good, wish)
    if bars is None:
        raise MusicError(f"the drift never comes home on a barline: {good.why}")
    return meters.of_bars(bars) // cycle, bars
