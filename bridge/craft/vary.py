"""Variations of a groove, each named, with how far it is from the original.

What players do to keep a groove alive: start it elsewhere, swap low and high drum in the
second bar, push one voice against the others, leave hits out, add some, iron it out
(common practice, no source).  Distances: the steps that differ, and the least number of
moves of a hit to a neighbouring step (the swap distance of Toussaint 2004, extended to
unequal counts as in Díaz-Báñez and others 2004: each hit of the fuller row moves to one
of the other, each of which is reached).  This file knows nothing about meters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from bridge.craft.pattern import HIT, REST, Groove, Pattern, even
from bridge.errors import MusicError, PlanError

__all__ = [
    "Variation",
    "displace",
    "invert",
    "make_even",
    "moves_between",
    "rotate",
    "steps_between",
    "thicken",
    "thin",
    "variations",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """A groove made from another: the name of the device, in words what was done, and how far it went."""

    name: str
    how: str
    groove: Groove
    steps_changed: int
    """Steps that differ, over all voices."""
    moves: int
    """Least moves of a hit to a neighbouring step, over all voices."""


def rotate(groove: Groove, by: int) -> Groove:
    """Start the whole groove ``by`` steps later in itself; what came before follows at the end."""
    return _each(groove, lambda _, pattern: pattern.rotated(by))


def displace(groove: Groove, voice: str, by: int) -> Groove:
    """Play one voice ``by`` steps later (earlier when negative) against the others."""
    groove.voice(voice)
    return _each(groove, lambda name, pattern: pattern.rotated(-by) if name == voice else pattern)


def invert(groove: Groove, first: str, second: str, *, bar: int | None = None) -> Groove:
    """Swap what two voices play, throughout or in bar ``bar`` only, counted from 1.

    MusicError when a voice would be left without any hit.
    """
    if bar is not None and not 1 <= bar <= len(groove.bars):
        raise PlanError(f"the groove has bars 1 to {len(groove.bars)}, not {bar}")
    span = range(groove.steps) if bar is None else groove.bars[bar - 1]
    pair = {first: groove.voice(second), second: groove.voice(first)}

    def swapped(name: str, pattern: Pattern) -> Pattern:
        if name not in pair:
            return pattern
        other = pair[name].steps
        steps = pattern.steps[: span.start] + other[span.start : span.stop] + pattern.steps[span.stop :]
        if not any(steps):
            raise MusicError(f"swapped so, {name} would have no hit left", hint="Swap them in another bar.")
        return Pattern(steps)

    return _each(groove, swapped)


def thin(pattern: Pattern, weights: Sequence[int]) -> Pattern | None:
    """Leave out one hit: the weakest that bears no accent, the later of equals; None when none can go.

    ``weights`` say how strong each step is (see levels).
    """
    plain = [onset for onset in pattern.onsets if pattern.steps[onset] == HIT]
    if not plain or len(pattern.onsets) == 1:
        return None
    gone = min(plain, key=lambda onset: (weights[onset], -onset))
    return _with(pattern, gone, REST)


def thicken(pattern: Pattern, weights: Sequence[int]) -> Pattern | None:
    """Add one hit in the middle of the longest silence, on the stronger of two middles; None when full."""
    steps = len(pattern.steps)
    gaps = list(zip(pattern.gaps, pattern.onsets, strict=True))
    longest, onset = max(gaps, key=lambda one: (one[0], -one[1]))
    if longest == 1:
        return None
    middles = {(onset + longest // 2) % steps, (onset + (longest + 1) // 2) % steps}
    return _with(pattern, max(middles, key=lambda step: (weights[step], -step)), HIT)


def make_even(pattern: Pattern) -> Pattern:
    """Spread the same number of hits as evenly as can be, from the first hit on; accents are lost."""
    spread = even(len(pattern.onsets), len(pattern.steps))
    return spread.rotated(-pattern.onsets[0])


def steps_between(groove: Groove, other: Groove) -> int:
    """Count the steps that differ between two grooves of the same voices and length, over all voices."""
    return sum(
        1
        for (_, ours), (_, theirs) in zip(groove.voices, other.voices, strict=True)
        for one, two in zip(ours.steps, theirs.steps, strict=True)
        if one != two
    )


def moves_between(pattern: Pattern, other: Pattern) -> int:
    """Count the least moves of a hit to a neighbouring step that turn one row of hits into the other.

    With equally many hits this is Σ|aᵢ − bᵢ|.  With unequal ones each hit of the fuller
    row goes to one of the other, in order, and each of those is reached.
    """
    many, few = sorted((pattern.onsets, other.onsets), key=len, reverse=True)
    # best[j]: least moves so far with the last hit sent to few[j].
    best = [abs(many[0] - few[0])]
    for hit in many[1:]:
        targets = range(min(len(best) + 1, len(few)))
        best = [min(best[max(0, j - 1) : j + 1]) + abs(hit - few[j]) for j in targets]
    return best[-1]


def variations(groove: Groove, weights: Sequence[int], *, by: int = 1) -> Iterator[Variation]:
    """Yield each device once: rotated and displaced ``by`` steps, inverted, thinned, thickened, even.

    A device that changes nothing, or cannot be done, is left out.
    """
    for name, how, made in _devices(groove, weights, by):
        changed = steps_between(groove, made)
        if changed:
            moves = sum(
                moves_between(ours, theirs)
                for (_, ours), (_, theirs) in zip(groove.voices, made.voices, strict=True)
            )
            yield Variation(name=name, how=how, groove=made, steps_changed=changed, moves=moves)


def _devices(groove: Groove, weights: Sequence[int], by: int) -> Iterator[tuple[str, str, Groove]]:
    names = [name for name, _ in groove.voices]
    steps = f"{abs(by)} step{'' if abs(by) == 1 else 's'} {'later' if by >= 0 else 'earlier'}"
    yield "rotate", f"starts {steps} in itself", rotate(groove, by)
    if len(names) > 1:
        for name in names[1:]:
            yield "displace", f"{name} plays {steps}", displace(groove, name, by)
        yield from _inversions(groove, names[0], names[1])
    for name in names:
        for device, make, words in (("thin", thin, "leaves out"), ("thicken", thicken, "adds")):
            found = make(groove.voice(name), weights)
            if found is not None:
                step = _changed(groove.voice(name), found) + 1
                yield device, f"{name} {words} step {step}", _in_voice(groove, name, found)
    for name in names:
        spread = make_even(groove.voice(name))
        yield "even", f"{name} spreads its hits evenly", _in_voice(groove, name, spread)


def _inversions(groove: Groove, first: str, second: str) -> Iterator[tuple[str, str, Groove]]:
    yield "invert", f"{first} and {second} swap", invert(groove, first, second)
    for bar in range(2, len(groove.bars) + 1, 2):
        try:
            made = invert(groove, first, second, bar=bar)
        except MusicError:
            continue  # swapped in this bar a voice would fall silent: not a variation to offer
        yield "invert", f"{first} and {second} swap in bar {bar}", made


def _each(groove: Groove, change: Callable[[str, Pattern], Pattern]) -> Groove:
    return replace(groove, voices=tuple((name, change(name, pattern)) for name, pattern in groove.voices))


def _in_voice(groove: Groove, voice: str, pattern: Pattern) -> Groove:
    return _each(groove, lambda name, old: pattern if name == voice else old)


def _with(pattern: Pattern, step: int, what: int) -> Pattern:
    return Pattern((*pattern.steps[:step], what, *pattern.steps[step + 1 :]))


def _changed(before: Pattern, after: Pattern) -> int:
    return next(
        step for step, (old, new) in enumerate(zip(before.steps, after.steps, strict=True)) if old != new
    )
